# Powers and sample sizes of t tests and one-way analysis of variance, by R's own stats package (noncentral t and F).
out <- data.frame()
add <- function(test, k, n, delta, sides, power) {
  out <<- rbind(out, data.frame(test = test, k = k, n = n, delta = delta, sides = sides, power = power))
}
for (d in c(0.2, 0.5, 0.8, 1.3)) {
  r <- power.t.test(delta = d, sd = 1, power = 0.8, strict = TRUE, tol = 1e-12)
  add("two recipes", 2, r$n, d, "two-sided", 0.8)
  for (n in c(3, 12, 64)) {
    add("two recipes", 2, n, d, "two-sided", power.t.test(n = n, delta = d, sd = 1, strict = TRUE)$power)
  }
  r <- power.t.test(delta = d, sd = 1, power = 0.9, type = "one.sample", alternative = "one.sided", tol = 1e-12)
  add("pairs", 1, r$n, d, "one-sided", 0.9)
}
# Cohen's f as the between-means variance that power.anova.test wants: var of means with divisor k - 1.
for (k in 3:5) for (f in c(0.1, 0.25, 0.4)) {
  chance <- function(n) power.anova.test(groups = k, n = n, between.var = f^2 * k / (k - 1), within.var = 1)$power
  add("anova", k, uniroot(function(n) chance(n) - 0.8, c(2, 1000), tol = 1e-12)$root, f, "two-sided", 0.8)
}
out$n <- format(out$n, digits = 12)
out$power <- format(out$power, digits = 12)
write.csv(out, "power.csv", row.names = FALSE, quote = FALSE)
cat(R.version.string, "\n")
