# Reference numbers for Deming regression; run here as `Rscript generate.R`, it writes expected.csv. Base R and boot.
# Lines come from principal components of data scaled to equal errors and are checked against a direct search of the
# sum of squares; the jackknife refits every leave-one-out set. The tests read expected.csv and never need R.
options(digits = 15)
suppressPackageStartupMessages(library(boot))
out <- list()
note <- function(case, quantity, value) {
  out[[length(out) + 1]] <<- data.frame(case = case, quantity = quantity, value = sprintf("%.12g", value))
}

line <- function(x, y, var_x, var_y) {
  if (var_x == 0) return(unname(coef(lm(y ~ x))))
  if (var_y == 0) {
    turned <- unname(coef(lm(x ~ y)))
    return(c(-turned[1] / turned[2], 1 / turned[2]))
  }
  scaled <- cbind(x / sqrt(var_x), y / sqrt(var_y))
  along <- svd(scale(scaled, scale = FALSE))$v[, 1]
  slope <- along[2] / along[1] * sqrt(var_y / var_x)
  c(mean(y) - slope * mean(x), slope)
}
search <- function(x, y, var_x, var_y, around) {
  misfit <- function(b) {
    residual <- y - mean(y) - b * (x - mean(x))
    sum(residual^2) / (var_y + b^2 * var_x)
  }
  optimize(misfit, around + c(-0.5, 0.5), tol = 1e-12)$minimum
}

data <- read.csv("pairs.csv")
run <- function(case, from, var_x, var_y) {
  x <- data$x[data$case == from]
  y <- data$y[data$case == from]
  n <- length(x)
  found <- line(x, y, var_x, var_y)
  stopifnot(abs(search(x, y, var_x, var_y, found[2]) - found[2]) < 1e-6)
  left_out <- t(sapply(seq_len(n), function(i) line(x[-i], y[-i], var_x, var_y)))
  pseudo <- n * rep(found, each = n) - (n - 1) * left_out
  covariance <- cov(pseudo) / n
  half <- qt(0.975, n - 2) * sqrt(diag(covariance))
  values <- c(
    intercept = found[1], slope = found[2], se_intercept = sqrt(covariance[1, 1]), se_slope = sqrt(covariance[2, 2]),
    covariance = covariance[1, 2], intercept_low = found[1] - half[1], intercept_high = found[1] + half[1],
    slope_low = found[2] - half[2], slope_high = found[2] + half[2],
    residual_variance = sum((y - found[1] - found[2] * x)^2) / (n - 2)
  )
  for (name in names(values)) note(case, name, values[[name]])
  set.seed(20260611)
  draws <- boot(cbind(x, y), function(d, i) line(d[i, 1], d[i, 2], var_x, var_y), R = 4000)
  note(case, "bootstrap_se_slope", sd(draws$t[, 2]))
}
run("published", "published", 0.032, 0.008)
run("equal_errors", "published", 1, 1)
run("narrow", "narrow", 0.0001, 0.0004)
run("wide", "wide", 0.0025, 0.0025)
run("exact_x", "narrow", 0, 1)
run("exact_y", "narrow", 1, 0)

write.csv(do.call(rbind, out), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, paste("boot", packageVersion("boot"))), "versions.txt")
