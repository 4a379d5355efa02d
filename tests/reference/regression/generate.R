# Least squares with HC3 errors in base R: lm, hatvalues and the sandwich written out (no package is needed).
# Run here as `Rscript generate.R`; it writes brews.csv (invented brews of one coffee) and brews_expected.csv.
options(digits = 15)
set.seed(20260402)
n <- 42
brews <- data.frame(brew_id = sprintf("b%02d", 1:n))
brews$grind_steps_finer <- sample(-3:3, n, replace = TRUE) / 2
brews$water_temp_c <- round(runif(n, 90, 96), 1)
brews$beverage_ratio <- round(2.1 + 0.15 * brews$grind_steps_finer + rnorm(n, sd = 0.2), 2)
brews$channeled <- as.numeric(runif(n) < 0.25)
spread <- 0.4 + 0.8 * brews$channeled
brews$extraction_yield_pct <- round(20 + 0.4 * brews$grind_steps_finer + 0.1 * (brews$water_temp_c - 93) +
  2 * (brews$beverage_ratio - 2.1) - 1.9 * brews$channeled + rnorm(n) * spread, 2)

centred <- function(x) x - mean(x)
model <- data.frame(
  y = brews$extraction_yield_pct,
  grind_steps_finer = centred(brews$grind_steps_finer),
  water_temp_c = centred(brews$water_temp_c),
  beverage_ratio = centred(brews$beverage_ratio),
  channeled = centred(brews$channeled)
)
model$grind_squared <- model$grind_steps_finer^2
model$grind_channeled <- model$grind_steps_finer * model$channeled

rows <- list()
tell <- function(case, formula) {
  fit <- lm(formula, data = model)
  x <- model.matrix(fit)
  bread <- solve(crossprod(x))
  meat <- crossprod(x * (resid(fit) / (1 - hatvalues(fit))))
  hc3 <- sqrt(diag(bread %*% meat %*% bread))
  classical <- coef(summary(fit))[, "Std. Error"]
  df <- df.residual(fit)
  for (term in names(coef(fit))) {
    rows[[length(rows) + 1]] <<- data.frame(
      case = case, term = term, df = df,
      estimate = sprintf("%.12g", coef(fit)[[term]]),
      hc3 = sprintf("%.12g", hc3[[term]]),
      classical = sprintf("%.12g", classical[[term]]),
      low = sprintf("%.12g", coef(fit)[[term]] - qt(0.975, df) * hc3[[term]]),
      high = sprintf("%.12g", coef(fit)[[term]] + qt(0.975, df) * hc3[[term]]),
      p_value = sprintf("%.12g", 2 * pt(-abs(coef(fit)[[term]] / hc3[[term]]), df))
    )
  }
}
tell("linear", y ~ grind_steps_finer + water_temp_c + beverage_ratio + channeled)
tell("curve", y ~ grind_steps_finer + water_temp_c + beverage_ratio + channeled + grind_squared + grind_channeled)

write.csv(brews, "brews.csv", row.names = FALSE, quote = FALSE)
write.csv(do.call(rbind, rows), "brews_expected.csv", row.names = FALSE, quote = FALSE)
