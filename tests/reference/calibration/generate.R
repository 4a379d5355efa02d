# Lines with errors in both variables by direct minimisation, ordinary and drift lines by lm.
# Run in this folder: Rscript generate.R
points <- read.csv("points.csv")
drifts <- read.csv("drifts.csv")

# Sum of squares as a function of the slope alone; the best intercept for a slope is a weighted mean.
best_intercept <- function(b, d) { w <- 1 / (d$var_y + b^2 * d$var_x); sum(w * (d$y - b * d$x)) / sum(w) }
squares <- function(b, d) { a <- best_intercept(b, d); sum((d$y - a - b * d$x)^2 / (d$var_y + b^2 * d$var_x)) }
direct <- function(d) {
  start <- coef(lm(y ~ x, d))[[2]]
  found <- optimize(squares, start + c(-0.2, 0.2), d = d, tol = 1e-12)
  # The minimum is flat in double precision: polish where the derivative (central difference) is zero.
  slope <- uniroot(function(b) squares(b + 1e-5, d) - squares(b - 1e-5, d), found$minimum + c(-1e-3, 1e-3), tol = 1e-14)$root
  c(intercept = best_intercept(slope, d), slope = slope, chi2 = squares(slope, d))
}

rows <- list()
add <- function(case, values) rows[[length(rows) + 1]] <<- data.frame(case, quantity = names(values), value = unname(values))

for (case in unique(points$case)) {
  d <- points[points$case == case, ]
  if (case == "oven") {
    # The scatter of readings is not given: it is what the line leaves, less the references' own errors.
    left <- function(v) {
      d$var_y <- v
      f <- direct(d)
      sum((d$y - f[["intercept"]] - f[["slope"]] * d$x)^2) / (nrow(d) - 2) - f[["slope"]]^2 * mean(d$var_x) - v
    }
    d$var_y <- uniroot(left, c(1e-7, 1e-2), tol = 1e-16)$root
    add(case, c(direct(d), scatter_variance = d$var_y[1]))
  } else if (case == "exact") {
    fit <- lm(y ~ x, d)
    at <- c(1.3, 6, 14)
    add(case, c(intercept = coef(fit)[[1]], slope = coef(fit)[[2]], var_intercept = vcov(fit)[1, 1],
                covariance = vcov(fit)[1, 2], var_slope = vcov(fit)[2, 2]))
    se <- predict(fit, data.frame(x = at), se.fit = TRUE)$se.fit
    add(case, setNames(se, paste0("se_at_", at)))
  } else {
    add(case, direct(d))
  }
}

drift <- function(case, model) {
  interval <- confint(model, "week")
  add(case, c(per_week = coef(model)[["week"]], low = interval[1], high = interval[2], df = model$df.residual,
              scatter = sigma(model)))
}
one <- drifts[drifts$case == "one bottle", ]
drift("one bottle", lm(error ~ week, one))
turn <- drifts[drifts$case == "bottles in turn", ]
drift("bottles in turn", lm(error ~ 0 + factor(reference) + week, turn))
both <- drifts[drifts$case == "two bottles a morning", ]
drift("two bottles a morning", lm(error ~ week, aggregate(error ~ week, both, mean)))

out <- do.call(rbind, rows)
out$value <- trimws(formatC(out$value, digits = 15, format = "g"))
write.csv(out, "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(R.version.string, "versions.txt")
