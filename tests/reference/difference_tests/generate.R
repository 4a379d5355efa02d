# Run: Rscript generate.R   (base R only; writes expected.csv and versions.txt beside itself)
out <- data.frame(what = character(), arguments = character(), value = numeric())
put <- function(what, arguments, value) {
  out <<- rbind(out, data.frame(what = what, arguments = arguments, value = value))
}
# Exact tests and intervals: R's own binom.test
for (case in list(c(14, 30, 1/3), c(8, 12, 1/3), c(22, 30, 1/2), c(0, 7, 1/3), c(7, 7, 1/2), c(3, 30, 1/3))) {
  name <- paste(case[1], case[2], if (case[3] == 0.5) "half" else "third")
  put("p_greater", name, binom.test(case[1], case[2], case[3], "greater")$p.value)
  put("p_less", name, binom.test(case[1], case[2], case[3], "less")$p.value)
  put("p_two_sided", name, binom.test(case[1], case[2], 1/2)$p.value)
  both <- binom.test(case[1], case[2])$conf.int
  put("low", name, both[1]); put("high", name, both[2])
}
# Psychometric functions. Triangle: the odd cup at d, the like cups x and y at 0; it is found where it lies farther
# from both than they lie apart. Integrated over x and y, the odd cup by its distribution function.
triangle <- function(d) {
  inner <- function(x) sapply(x, function(one) integrate(function(y) {
    apart <- abs(one - y)
    (pnorm(pmin(one, y) - apart - d) + 1 - pnorm(pmax(one, y) + apart - d)) * dnorm(y)
  }, -9, 9, rel.tol = 1e-9, subdivisions = 500)$value * dnorm(one))
  integrate(inner, -9, 9, rel.tol = 1e-9, subdivisions = 500)$value
}
# Duo-trio: reference and like cup at 0, the other at d; right where the like cup lies nearer to the reference.
duo_trio <- function(d) {
  inner <- function(r) sapply(r, function(ref) integrate(function(x) {
    near <- abs(x - ref)
    (pnorm(ref - near - d) + 1 - pnorm(ref + near - d)) * dnorm(x)
  }, -9, 9, rel.tol = 1e-9, subdivisions = 500)$value * dnorm(ref))
  integrate(inner, -9, 9, rel.tol = 1e-9, subdivisions = 500)$value
}
paired <- function(d) integrate(function(x) dnorm(x, d) * pnorm(x), -9, 9 + d, rel.tol = 1e-10)$value
for (d in c(0.5, 1, 2, 3.5)) {
  put("share_right", paste("triangle", d), triangle(d))
  put("share_right", paste("duo_trio", d), duo_trio(d))
  put("share_right", paste("paired", d), paired(d))
}
# Power and sizes, count by count
needed <- function(n, p0, level) { k <- 0:(n + 1); min(k[pbinom(k - 1, n, p0, lower.tail = FALSE) <= level + 1e-12]) }
power_of <- function(n, p0, pd, level) pbinom(needed(n, p0, level) - 1, n, p0 + pd * (1 - p0), lower.tail = FALSE)
pass_of <- function(n, p0, pd, level) {
  k <- -1:n
  allowed <- max(k[pbinom(k, n, p0 + pd * (1 - p0)) <= level + 1e-12])
  pbinom(allowed, n, p0)
}
prefer_of <- function(n, share, level) {
  k <- needed(n, 1/2, level / 2)
  pbinom(k - 1, n, share, lower.tail = FALSE) + pbinom(n - k, n, share)
}
sizes <- function(f, target, most) {
  power <- sapply(1:most, f)
  c(first = which(power >= target)[1], on = max(which(power < target)) + 1)
}
for (case in list(c("triangle", 1/3), c("duo_trio", 1/2))) for (pd in c(0.5, 0.3, 0.2)) for (target in c(0.8, 0.9)) {
  p0 <- as.numeric(case[2])
  name <- paste(case[1], pd, target)
  show <- sizes(function(n) power_of(n, p0, pd, 0.05), target, 800)
  pass <- sizes(function(n) pass_of(n, p0, pd, 0.05), target, 800)
  put("show_first", name, show["first"]); put("show_on", name, show["on"])
  put("pass_first", name, pass["first"]); put("pass_on", name, pass["on"])
}
for (share in c(0.8, 0.65)) put("prefer_on", paste(share, 0.8), sizes(function(n) prefer_of(n, share, 0.05), 0.8, 600)["on"])
# Beta-binomial by its two shapes and beta functions; profile over the likeness at each share
panels <- read.csv("panels.csv")
for (panel in unique(panels$panel)) {
  x <- panels$right[panels$panel == panel]; n <- panels$n[panels$panel == panel]
  ll <- function(mu, rho) {
    if (rho <= 0) return(sum(x) * log(mu) + sum(n - x) * log(1 - mu))
    s <- (1 - rho) / rho
    sum(lbeta(x + mu * s, n - x + (1 - mu) * s) - lbeta(mu * s, (1 - mu) * s))
  }
  over <- function(mu) {
    best <- optimize(function(rho) ll(mu, rho), c(1e-5, 0.999), maximum = TRUE, tol = 1e-9)
    if (ll(mu, 0) >= best$objective) c(ll(mu, 0), 0) else c(best$objective, best$maximum)
  }
  top <- optimize(function(mu) over(mu)[1], c(1e-4, 1 - 1e-4), maximum = TRUE, tol = 1e-9)
  put("share", panel, top$maximum)
  put("alike", panel, over(top$maximum)[2])
  gain <- max(0, 2 * (top$objective - ll(sum(x) / sum(n), 0)))
  put("alike_p", panel, if (gain > 0) pchisq(gain, 1, lower.tail = FALSE) / 2 else 1)
  floor <- top$objective - qt(0.975, length(x) - 1)^2 / 2
  end <- function(a, b) uniroot(function(mu) over(mu)[1] - floor, c(a, b), tol = 1e-9)$root
  put("palates_low", panel, end(1e-4, top$maximum))
  put("palates_high", panel, end(top$maximum, 1 - 1e-4))
  # Every turning of every palate's surplus, one by one
  surplus <- 2 * x - n
  turns <- as.matrix(expand.grid(rep(list(c(-1, 1)), length(x)))) %*% surplus
  put("sign_flip_p", panel, mean(abs(turns) >= abs(sum(surplus))))
}
put("fisher_p", "20 of 25 and 3 of 5", fisher.test(matrix(c(20, 3, 5, 2), 2))$p.value)
out$value <- formatC(out$value, digits = 12, format = "g")
write.csv(out, "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(R.version.string, "versions.txt")
