# Reference numbers for panels: lmerTest fits of a panel's model, emmeans' pairs, plain lm and cor.test for one assessor.
# Run here as `Rscript generate.R`; it writes <case>.csv (the rows as R saw them) and expected.csv. No test needs R.
suppressPackageStartupMessages({
  library(lme4)
  library(lmerTest)
  library(emmeans)
})
options(digits = 15)
tight <- lmerControl(
  optimizer = "nloptwrap", optCtrl = list(xtol_rel = 0, xtol_abs = 1e-12, ftol_rel = 0, ftol_abs = 0, maxeval = 20000),
  check.conv.singular = "ignore", check.conv.grad = "ignore", check.conv.hess = "ignore"
)
expected <- list()
note <- function(case, quantity, term, value) {
  expected[[length(expected) + 1]] <<- data.frame(
    case = case, quantity = quantity, term = term, value = sprintf("%.12g", value)
  )
}

# `parts`: name -> grouping factor. Parts whose variance comes out as zero are left out and the rest is fitted again.
run <- function(case, data, parts, beside = c()) {
  data <- data[!is.na(data$y), ]
  for (name in names(parts)) data[[name]] <- parts[[name]](data)
  bars <- names(parts)
  repeat {
    model <- as.formula(paste("y ~ 0 + product", paste(c("", beside, sprintf("(1 | %s)", bars)), collapse = " + ")))
    fit <- lmerTest::lmer(model, data = data, REML = TRUE, control = tight)
    found <- as.data.frame(VarCorr(fit))
    zero <- found$grp[found$vcov < 1e-8 * sigma(fit)^2]
    if (length(zero) == 0) break
    bars <- setdiff(bars, zero)
  }
  for (k in seq_len(nrow(found))) note(case, "variance", found$grp[k], found$vcov[k])
  note(case, "reml_criterion", "", REMLcrit(fit))
  p <- length(fixef(fit))
  products <- grep("^product", names(fixef(fit)))
  contrast <- matrix(0, length(products) - 1, p)
  contrast[, 1] <- -1
  for (k in seq_len(nrow(contrast))) contrast[k, k + 1] <- 1
  tests <- list(products = contrast)
  if (length(beside)) tests$beside <- diag(p)[match(beside, names(fixef(fit))), , drop = FALSE]
  for (name in names(tests)) {
    test <- lmerTest::contestMD(fit, tests[[name]], ddf = "Satterthwaite")
    note(case, "f_statistic", name, test[["F value"]])
    note(case, "f_df_den", name, test[["DenDF"]])
    note(case, "f_p_value", name, test[["Pr(>F)"]])
  }
  table <- coef(summary(fit, ddf = "Satterthwaite"))
  for (term in rownames(table)) {
    note(case, "estimate", term, table[term, "Estimate"])
    note(case, "std_error", term, table[term, "Std. Error"])
    note(case, "df", term, table[term, "df"])
  }
  if (!length(beside)) {
    pairs <- as.data.frame(summary(pairs(emmeans(fit, "product", lmer.df = "satterthwaite", lmerTest.limit = 1e5)),
      infer = TRUE, adjust = "tukey"))
    for (k in seq_len(nrow(pairs))) {
      for (quantity in c("estimate", "SE", "df", "lower.CL", "upper.CL", "p.value")) {
        note(case, paste0("pair_", quantity), as.character(pairs$contrast[k]), pairs[[quantity]][k])
      }
    }
  }
}
by <- function(...) {
  columns <- c(...)
  function(data) interaction(data[columns], drop = TRUE)
}

fries <- reshape2::french_fries
fries$product <- factor(fries$treatment)
everything <- list(
  assessor = by("subject"), assessor_product = by("subject", "treatment"), session = by("time"),
  product_session = by("treatment", "time"), assessor_session = by("subject", "time")
)
for (attribute in c("potato", "buttery", "grassy", "rancid", "painty")) {
  run(paste0("fries_", attribute), transform(fries, y = fries[[attribute]]), everything)
}

# Invented: recipes on the table of six assessors, four brews of each, every brew shared by all; some cups missing.
set.seed(31)
shared <- expand.grid(assessor = 1:6, brew = 1:16)
shared$product <- factor((shared$brew - 1) %/% 4 + 1)
effect <- c(0, 0.4, 1.6, 2.4)[shared$product] + rnorm(16, 0, 0.5)[shared$brew] + rnorm(6, 0, 0.8)[shared$assessor]
effect <- effect + rnorm(24, 0, 0.4)[interaction(shared$assessor, shared$product)]
shared$y <- round(6 + effect + rnorm(nrow(shared), 0, 0.6), 1)
shared <- shared[-c(7, 30, 31, 62), ]
run("shared_brews", shared, list(assessor = by("assessor"), assessor_product = by("assessor", "product"), brew = by("brew")))
write.csv(shared, "shared_brews.csv", row.names = FALSE, quote = FALSE)

# Invented: espresso, another shot for every palate, two shots of each of three recipes a palate, each scored twice.
set.seed(32)
shots <- expand.grid(replicate = 1:2, shot = 1:2, product = factor(1:3), assessor = 1:7)
shots$brew <- as.integer(interaction(shots$shot, shots$product, shots$assessor))
effect <- c(0, 0.9, 1.8)[shots$product] + rnorm(42, 0, 0.7)[shots$brew] + rnorm(7, 0, 0.9)[shots$assessor]
shots$y <- round(5 + effect + rnorm(nrow(shots), 0, 0.5), 1)
shots <- shots[-c(3, 4, 50), ]
run("own_shots", shots, list(assessor = by("assessor"), assessor_product = by("assessor", "product"), brew = by("brew")))
write.csv(shots, "own_shots.csv", row.names = FALSE, quote = FALSE)

# Invented: a serving order with a first cup scored high and a drift.
set.seed(33)
order <- do.call(rbind, lapply(1:9, function(who) data.frame(assessor = who, product = factor(sample(1:5)), position = 1:5, cup = 1)))
order <- rbind(order, do.call(rbind, lapply(1:9, function(who) data.frame(assessor = who, product = factor(sample(1:5)), position = 6:10, cup = 2))))
order$first <- as.numeric(order$position == 1)
effect <- c(0, 0.3, 0.6, 1.5, 2)[order$product] + 0.8 * order$first - 0.1 * order$position + rnorm(9, 0, 0.7)[order$assessor]
effect <- effect + rnorm(45, 0, 0.5)[interaction(order$assessor, order$product)]
order$y <- round(6 + effect + rnorm(nrow(order), 0, 0.6), 1)
run("order", order, list(assessor = by("assessor"), assessor_product = by("assessor", "product")), c("first", "position"))
write.csv(order, "order.csv", row.names = FALSE, quote = FALSE)

# One assessor at a time: products beside sessions, by lm; repeats, by lm on cells.
for (who in levels(factor(fries$subject))) {
  own <- fries[fries$subject == who & !is.na(fries$rancid), ]
  table <- anova(lm(rancid ~ factor(time) + treatment, data = own))
  note("one_assessor", "f_statistic", who, table["treatment", "F value"])
  note("one_assessor", "f_df_den", who, table["Residuals", "Df"])
  note("one_assessor", "f_p_value", who, table["treatment", "Pr(>F)"])
  cells <- lm(rancid ~ interaction(time, treatment, drop = TRUE), data = own)
  note("one_assessor", "repeat_sd", who, sigma(cells))
  note("one_assessor", "repeat_df", who, df.residual(cells))
  cups <- anova(cells)
  note("one_assessor", "cups_p_value", who, cups[1, "Pr(>F)"])
}

# One assessor against the mean of the others, balanced: ergoStool (nlme), four products are the cups.
ergo <- as.data.frame(nlme::ergoStool)
for (who in levels(factor(ergo$Subject, levels = 1:9))) {
  own <- ergo$effort[ergo$Subject == who]
  others <- tapply(ergo$effort[ergo$Subject != who], ergo$Type[ergo$Subject != who], mean)
  line <- lm(own ~ as.numeric(others))
  r <- cor.test(own, as.numeric(others))
  note("ergo_agreement", "slope", who, coef(line)[2])
  note("ergo_agreement", "slope_low", who, confint(line)[2, 1])
  note("ergo_agreement", "slope_high", who, confint(line)[2, 2])
  note("ergo_agreement", "correlation", who, r$estimate)
  note("ergo_agreement", "correlation_low", who, r$conf.int[1])
  note("ergo_agreement", "correlation_high", who, r$conf.int[2])
}

write.csv(do.call(rbind, expected), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, sapply(c("lme4", "lmerTest", "emmeans", "nlme", "reshape2"), function(name) {
  paste(name, packageVersion(name))
})), "versions.txt")
