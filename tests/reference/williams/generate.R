# Two independent calculations with base R.
# 1. Williams designs by the construction of Sheehe and Bross (1961, Biometrics 17, 405-414): a cyclic Latin square and
#    its mirror image interlaced column by column, then cut in the middle.
# 2. Efficiency of incomplete blocks from least squares: fit blocks and products with lm(), take the covariance of the
#    estimates for unit noise, average the variance of all differences between two products, and divide the one of
#    complete blocks, 2 / (mean number of servings), by it.
options(contrasts = c("contr.treatment", "contr.poly"))

sheehe_bross <- function(n) {
  square <- outer(0:(n - 1), 0:(n - 1), function(i, j) (i + j) %% n)
  mirror <- square[, n:1]
  both <- matrix(0, n, 2 * n)
  both[, seq(1, 2 * n, 2)] <- square
  both[, seq(2, 2 * n, 2)] <- mirror
  first <- both[, 1:n]
  if (n %% 2 == 0) first else rbind(first, both[, (n + 1):(2 * n)])
}
rows <- do.call(rbind, lapply(2:9, function(n) {
  design <- sheehe_bross(n)
  data.frame(n_cups = n, order = apply(design, 1, paste, collapse = " "))
}))
write.csv(rows, "sheehe_bross.csv", row.names = FALSE, quote = FALSE)

designs <- read.csv("designs.csv")
efficiency <- function(d) {
  d$block <- factor(d$block); d$product <- factor(d$product)
  set.seed(1); d$y <- rnorm(nrow(d))
  fit <- lm(y ~ block + product, d)
  cov <- summary(fit)$cov.unscaled
  keep <- grep("^product", rownames(cov))
  v <- length(keep) + 1
  full <- matrix(0, v, v); full[2:v, 2:v] <- cov[keep, keep]
  pairs <- combn(v, 2)
  variances <- apply(pairs, 2, function(p) full[p[1], p[1]] + full[p[2], p[2]] - 2 * full[p[1], p[2]])
  (2 / (nrow(d) / v)) / mean(variances)
}
out <- data.frame(design = unique(designs$design))
out$efficiency <- sapply(out$design, function(name) efficiency(designs[designs$design == name, ]))
write.csv(format(out, digits = 15), "efficiency.csv", row.names = FALSE, quote = FALSE)
