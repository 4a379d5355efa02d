# Regression diagnostics in base R (and lme4 for the last part). Run here as `Rscript generate.R`.
# Reads ../regression/longley.csv and central_composite.csv (published data); writes brews.csv, blends.csv (invented) and expected/*.csv.
options(digits = 15)
dir.create("expected", showWarnings = FALSE)
show <- function(x) sprintf("%.12g", x)
write <- function(frame, name) {
  write.csv(frame, file.path("expected", paste0(name, ".csv")), row.names = FALSE, quote = FALSE)
}

# Invented brews: 4 coffees, unbalanced, grind and ratio moving together, sessions, a trend along the session.
set.seed(20261125)
n <- 44
brews <- data.frame(brew_id = sprintf("b%02d", 1:n))
brews$coffee_id <- sample(c("c1", "c2", "c3", "c4"), n, replace = TRUE, prob = c(4, 3, 2, 1.5))
brews$session_id <- sprintf("s%d", rep(1:4, each = 11))
brews$operator <- sample(c("ana", "ben"), n, replace = TRUE)
brews$grind_steps_finer <- sample(-3:3, n, replace = TRUE) / 2
brews$water_temp_c <- round(runif(n, 90, 96), 1)
brews$beverage_ratio <- round(2.1 + 0.12 * brews$grind_steps_finer + rnorm(n, sd = 0.12), 2)
level <- c(c1 = 19.2, c2 = 20.4, c3 = 21.1, c4 = 20.0)
brews$extraction_yield_pct <- round(level[brews$coffee_id] + 0.4 * brews$grind_steps_finer +
  0.1 * (brews$water_temp_c - 93) + 2 * (brews$beverage_ratio - 2.1) + 0.05 * rep(1:11, 4) + rnorm(n, sd = 0.45), 2)
write.csv(brews, "brews.csv", row.names = FALSE, quote = FALSE)

longley <- read.csv("../regression/longley.csv")
fits <- list(
  longley = lm(TOTEMP ~ GNPDEFL + GNP + UNEMP + ARMED + POP + YEAR, data = longley),
  brews = lm(extraction_yield_pct ~ grind_steps_finer + water_temp_c + beverage_ratio + coffee_id, data = brews)
)
slopes <- list(longley = names(longley)[-1], brews = c("grind_steps_finer", "water_temp_c", "beverage_ratio"))

# Variance inflation: of the regressors, and of the settings within coffees (residuals after coffee levels).
vif <- function(frame) sapply(names(frame), function(k) {
  1 / (1 - summary(lm(reformulate(setdiff(names(frame), k), k), data = frame))$r.squared)
})
within <- as.data.frame(lapply(brews[slopes$brews], function(v) resid(lm(v ~ coffee_id, data = brews))))
frames <- list(longley = longley[slopes$longley], brews = within)
write(do.call(rbind, lapply(names(frames), function(case) {
  data.frame(case = case, term = names(frames[[case]]), vif = show(vif(frames[[case]])))
})), "vif")
write(data.frame(first = c("grind_steps_finer", "grind_steps_finer", "water_temp_c"),
  second = c("water_temp_c", "beverage_ratio", "beverage_ratio"),
  r = show(cor(within)[cbind(c(1, 1, 2), c(2, 3, 3))])), "correlation")

# Belsley, Kuh & Welsch: condition indices and variance shares of the unit-length columns, intercept included.
x <- model.matrix(fits$longley)
parts <- svd(sweep(x, 2, sqrt(colSums(x^2)), "/"))
phi <- sweep(parts$v^2, 2, parts$d^2, "/")
share <- t(phi / rowSums(phi))
colnames(share) <- c("intercept", slopes$longley)
write(data.frame(index = show(parts$d[1] / parts$d), apply(share, 2, show)), "conditions")

# influence.measures: DFBETAS, DFFITS, covariance ratio, Cook's distance, hat; rstudent beside.
for (case in names(fits)) {
  found <- as.data.frame(influence.measures(fits[[case]])$infmat)
  keep <- match(slopes[[case]], names(coef(fits[[case]])))
  frame <- found[, keep]
  names(frame) <- paste0("dfbetas_", slopes[[case]])
  frame <- cbind(frame, found[, c("dffit", "cov.r", "cook.d", "hat")], rstudent = rstudent(fits[[case]]))
  write(as.data.frame(lapply(frame, show)), paste0("influence_", case))
}

# Residual checks on the internally studentised residuals of the brews.
e <- rstandard(fits$brews)
row <- function(check, statistic, p) data.frame(check = check, statistic = show(statistic), p_value = show(p))
sw <- shapiro.test(e)
far <- rstudent(fits$brews)
squares <- e^2
aux <- summary(lm(squares ~ grind_steps_finer + water_temp_c + beverage_ratio, data = brews))
bp <- n * aux$r.squared
forsythe <- function(g) anova(lm(abs(e - ave(e, g, FUN = median)) ~ factor(g)))
bf_coffee <- forsythe(brews$coffee_id)
bf_operator <- forsythe(brews$operator)
place <- rep(1:11, 4) - 6
drift <- summary(lm(extraction_yield_pct ~ grind_steps_finer + water_temp_c + beverage_ratio + coffee_id + session_id +
  place, data = brews))$coefficients["place", ]
left <- resid(lm(extraction_yield_pct ~ grind_steps_finer + water_temp_c + beverage_ratio + coffee_id + session_id +
  place, data = brews))
pairs <- setdiff(1:(n - 1), c(11, 22, 33))
checks <- rbind(
  row("shapiro", sw$statistic, sw$p.value),
  row("furthest", far[which.max(abs(far))], min(1, n * 2 * pt(-max(abs(far)), df.residual(fits$brews) - 1))),
  row("breusch_pagan", bp, pchisq(bp, 3, lower.tail = FALSE)),
  row("brown_forsythe_coffee", bf_coffee[1, "F value"], bf_coffee[1, "Pr(>F)"]),
  row("brown_forsythe_operator", bf_operator[1, "F value"], bf_operator[1, "Pr(>F)"]),
  row("drift", drift["Estimate"], drift["Pr(>|t|)"]),
  row("lag_1", sum(left[pairs] * left[pairs + 1]) / sum(left^2), NA)
)
write(checks, "residual_checks")

# Lack of fit against pure error: the model against a level for each setting.
design <- read.csv("central_composite.csv")
small <- lm(y ~ x1 + x2 + I(x1^2) + I(x2^2) + x1:x2, data = design)
big <- lm(y ~ factor(paste(x1, x2)), data = design)
test <- anova(small, big)
write(data.frame(ss_misfit = show(test[2, "Sum of Sq"]), ss_pure = show(test[2, "RSS"]), df_misfit = test[2, "Df"],
  df_pure = test[2, "Res.Df"], f = show(test[2, "F"]), p_value = show(test[2, "Pr(>F)"])), "lack_of_fit")

# Nearly alike rows: the clusters come on top of the model (Christensen 1989).
near <- data.frame(brews, cluster = interaction(brews$coffee_id, brews$grind_steps_finer, drop = TRUE))
outer <- lm(extraction_yield_pct ~ grind_steps_finer + water_temp_c + beverage_ratio + coffee_id, data = near)
both <- lm(extraction_yield_pct ~ grind_steps_finer + water_temp_c + beverage_ratio + coffee_id + cluster, data = near)
test <- anova(outer, both)
write(data.frame(df_misfit = test[2, "Df"], df_pure = test[2, "Res.Df"], f = show(test[2, "F"]),
  p_value = show(test[2, "Pr(>F)"])), "near_lack_of_fit")

# A mixed model with each coffee and each brew left out (lme4, lmerTest for intervals).
suppressMessages(library(lmerTest))
blends <- data.frame(brew_id = sprintf("m%02d", 1:48), coffee_id = sprintf("k%d", rep(1:4, times = c(16, 14, 10, 8))))
blends$grind_steps_finer <- sample(-3:3, 48, replace = TRUE) / 2
blends$water_temp_c <- round(runif(48, 90, 96), 1)
lift <- c(k1 = -1.1, k2 = 0.2, k3 = 1.3, k4 = -0.3)
blends$extraction_yield_pct <- round(20 + lift[blends$coffee_id] + 0.35 * blends$grind_steps_finer +
  0.12 * (blends$water_temp_c - 93) + rnorm(48, sd = 0.6), 2)
blends$extraction_yield_pct[5] <- blends$extraction_yield_pct[5] - 3
write.csv(blends, "blends.csv", row.names = FALSE, quote = FALSE)
control <- lmerControl(optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, ftol_abs = 1e-12, maxeval = 1e5))
refit <- function(data) {
  fit <- lmer(extraction_yield_pct ~ grind_steps_finer + water_temp_c + (1 | coffee_id), data = data, control = control)
  row <- coef(summary(fit))["grind_steps_finer", ]
  reach <- qt(0.975, row["df"]) * row["Std. Error"]
  data.frame(estimate = show(row["Estimate"]), std_error = show(row["Std. Error"]),
    low = show(row["Estimate"] - reach), high = show(row["Estimate"] + reach))
}
whole <- data.frame(left_out = "none", refit(blends))
coffees <- do.call(rbind, lapply(unique(blends$coffee_id), function(k) {
  data.frame(left_out = k, refit(blends[blends$coffee_id != k, ]))
}))
singles <- do.call(rbind, lapply(blends$brew_id, function(k) {
  data.frame(left_out = k, refit(blends[blends$brew_id != k, ]))
}))
write(rbind(whole, coffees, singles), "left_out")

# The variances held at those of all brews: generalised least squares without each brew.
fit <- lmer(extraction_yield_pct ~ grind_steps_finer + water_temp_c + (1 | coffee_id), data = blends, control = control)
variances <- as.data.frame(VarCorr(fit))$vcov
v <- variances[2] * diag(48) + variances[1] * outer(blends$coffee_id, blends$coffee_id, "==")
x <- cbind(1, blends$grind_steps_finer, blends$water_temp_c)
gls <- function(keep) {
  w <- solve(v[keep, keep])
  solve(t(x[keep, ]) %*% w %*% x[keep, ], t(x[keep, ]) %*% w %*% blends$extraction_yield_pct[keep])[2]
}
held <- sapply(1:48, function(k) gls(1:48) - gls(setdiff(1:48, k)))
write(data.frame(brew_id = blends$brew_id, change = show(held), sigma = show(sqrt(variances[2])),
  coffee_variance = show(variances[1])), "held")

versions <- c(R.version.string, paste("lme4", packageVersion("lme4")), paste("lmerTest", packageVersion("lmerTest")))
writeLines(versions, "versions.txt")
