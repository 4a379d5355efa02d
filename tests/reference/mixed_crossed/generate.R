# Reference numbers for models with several variance components: lme4 fits by REML, lmerTest gives Satterthwaite's
# degrees of freedom and F tests, nlme the correlation within a session. Run here as `Rscript generate.R`; it writes
# <case>.csv (y, fixed columns x1.., levels of each part, slope columns) and expected.csv. The tests never need R.
suppressPackageStartupMessages({
  library(lme4)
  library(lmerTest)
})
options(digits = 15)
tight <- lmerControl(
  optimizer = "nloptwrap", optCtrl = list(xtol_rel = 0, xtol_abs = 1e-12, ftol_rel = 0, ftol_abs = 0, maxeval = 5000),
  check.conv.singular = "ignore", check.conv.grad = "ignore", check.conv.hess = "ignore"
)
expected <- list()
note <- function(case, quantity, term, value) {
  expected[[length(expected) + 1]] <<- data.frame(
    case = case, quantity = quantity, term = term, value = sprintf("%.12g", value)
  )
}

# `fixed` names numeric columns of `data`; `parts` is a named list: name -> c(group column, slope column or "").
run <- function(case, data, fixed, parts, f_tests = list()) {
  bars <- sapply(parts, function(part) {
    if (part[2] == "") sprintf("(1 | %s)", part[1]) else sprintf("(0 + %s | %s)", part[2], part[1])
  })
  for (part in parts) data[[part[1]]] <- factor(data[[part[1]]])
  model <- as.formula(paste("y ~", paste(c("1", fixed, bars), collapse = " + ")))
  fit <- lmerTest::lmer(model, data = data, REML = TRUE, control = tight)
  table <- coef(summary(fit, ddf = "Satterthwaite"))
  for (term in rownames(table)) {
    note(case, "estimate", term, table[term, "Estimate"])
    note(case, "std_error", term, table[term, "Std. Error"])
    note(case, "df", term, table[term, "df"])
    note(case, "p_value", term, table[term, "Pr(>|t|)"])
  }
  found <- as.data.frame(VarCorr(fit))
  for (name in names(parts)) {
    slope <- if (parts[[name]][2] == "") "(Intercept)" else parts[[name]][2]
    group <- sub("\\.[0-9]+$", "", found$grp) == parts[[name]][1] & found$var1 %in% slope
    note(case, "variance", name, found$vcov[group])
  }
  note(case, "variance", "residual", found$vcov[found$grp == "Residual"])
  note(case, "reml_criterion", "", REMLcrit(fit))
  for (name in names(f_tests)) {
    rows <- match(f_tests[[name]], rownames(table))
    contrasts <- diag(nrow(table))[rows, , drop = FALSE]
    test <- lmerTest::contestMD(fit, contrasts, ddf = "Satterthwaite")
    note(case, "f_statistic", name, test[["F value"]])
    note(case, "f_df_num", name, test[["NumDF"]])
    note(case, "f_df_den", name, test[["DenDF"]])
    note(case, "f_p_value", name, test[["Pr(>F)"]])
  }
  for (name in if (length(parts) > 1) names(parts)) {
    less <- as.formula(paste("y ~", paste(c("1", fixed, bars[names(parts) != name]), collapse = " + ")))
    note(case, "reml_criterion_without", name, REMLcrit(lme4::lmer(less, data = data, REML = TRUE, control = tight)))
  }
  ml <- lme4::lmer(model, data = data, REML = FALSE, control = tight)
  for (quantity in c("log_likelihood", "aic", "bic")) {
    value <- switch(quantity, log_likelihood = logLik(ml), aic = AIC(ml), bic = BIC(ml))
    note(case, paste0("ml_", quantity), "", as.numeric(value))
  }
  note(case, "ml_parameters", "", attr(logLik(ml), "df"))
  spreads <- as.data.frame(VarCorr(ml))$vcov
  note(case, "ml_zero_variances", "", sum(spreads < 1e-8 * sigma(ml)^2))
  keep <- data.frame(y = data$y)
  for (name in fixed) keep[[paste0("x_", name)]] <- data[[name]]
  for (name in names(parts)) {
    keep[[paste0("g_", name)]] <- as.integer(data[[parts[[name]][1]]]) - 1L
    keep[[paste0("s_", name)]] <- if (parts[[name]][2] == "") 1 else data[[parts[[name]][2]]]
  }
  write.csv(format(keep, digits = 15, trim = TRUE), paste0(case, ".csv"), row.names = FALSE, quote = FALSE)
  invisible(fit)
}

data(Dyestuff, package = "lme4")
data(Pastes, package = "lme4")
data(sleepstudy, package = "lme4")
data(Penicillin, package = "lme4")
data(cake, package = "lme4")
data(ergoStool, package = "nlme")

Dyestuff$y <- Dyestuff$Yield
run("dyestuff", Dyestuff, c(), list(batch = c("Batch", "")))

Pastes$y <- Pastes$strength
Pastes$batch_cask <- interaction(Pastes$batch, Pastes$cask, drop = TRUE)
run("pastes", Pastes, c(), list(batch = c("batch", ""), cask = c("batch_cask", "")))

sleepstudy$y <- sleepstudy$Reaction
run("sleepstudy", sleepstudy, "Days", list(subject = c("Subject", "")))
run("sleepstudy_slopes", sleepstudy, "Days", list(subject = c("Subject", ""), days_by_subject = c("Subject", "Days")))

Penicillin$y <- Penicillin$diameter
run("penicillin", Penicillin, c(), list(plate = c("plate", ""), sample = c("sample", "")))

# Split plot: recipe between whole plots, temperature within them (45 degree steps off 175 to 225 F).
cake$y <- cake$angle
cake$whole_plot <- interaction(cake$recipe, cake$replicate, drop = TRUE)
levels_of <- model.matrix(~ recipe * temperature, contrasts.arg = list(
  recipe = "contr.treatment", temperature = contr.treatment(6)
), data = transform(cake, temperature = factor(temperature, ordered = FALSE)))[, -1]
colnames(levels_of) <- gsub("[^A-Za-z0-9]", "_", colnames(levels_of))
cake <- cbind(cake, levels_of)
crossed <- grep("recipe.*_temperature", colnames(levels_of), value = TRUE)
run("cake", cake, colnames(levels_of), list(whole_plot = c("whole_plot", "")), list(
  recipe = c("recipeB", "recipeC"), recipe_by_temperature = crossed
))

ergoStool$y <- ergoStool$effort
stools <- model.matrix(~Type, data = ergoStool)[, -1]
ergoStool <- cbind(as.data.frame(ergoStool), stools)
run("ergo_stool", ergoStool, colnames(stools), list(subject = c("Subject", "")), list(type = colnames(stools)))

fries <- reshape2::french_fries
fries <- fries[!is.na(fries$potato), ]
fries$y <- fries$potato
fries$treatment2 <- as.numeric(fries$treatment == 2)
fries$treatment3 <- as.numeric(fries$treatment == 3)
run("french_fries", fries, c("treatment2", "treatment3"), list(subject = c("subject", ""), time = c("time", "")), list(
  treatment = c("treatment2", "treatment3")
))

# Invented brews: six coffees of unequal size crossed with sessions, grind's slope differing by coffee.
brews <- function(seed, sd_coffee, sd_session, sd_slope, n = 60) {
  set.seed(seed)
  coffee <- sample(6, n, replace = TRUE, prob = c(3, 2, 2, 1, 1, 1))
  session <- sort(sample(9, n, replace = TRUE))
  grind <- round(rnorm(n, 0, 2) + 0.4 * coffee)
  grind <- grind - mean(grind)
  temp <- round(rnorm(n, 93, 2), 1) - 93
  ratio <- round(rnorm(n, 16, 0.6), 2) - 16
  y <- 20 + 0.4 * grind + 0.1 * temp + 0.3 * ratio - 0.03 * grind^2 + rnorm(6, 0, sd_coffee)[coffee] +
    rnorm(9, 0, sd_session)[session] + rnorm(6, 0, sd_slope)[coffee] * grind + rnorm(n, 0, 0.5)
  data.frame(
    y = round(y, 3), coffee = coffee, session = session, grind = grind, grind_squared = grind^2, temp = temp,
    ratio = ratio
  )
}
columns <- c("grind", "temp", "ratio", "grind_squared")
parts <- list(coffee = c("coffee", ""), session = c("session", ""), grind_by_coffee = c("coffee", "grind"))
tests <- list(grind_and_its_square = c("grind", "grind_squared"), all_four = columns)
run("brews_all", brews(11, 0.8, 0.4, 0.2), columns, parts, tests)
run("brews_no_session", brews(12, 0.8, 0, 0.2), columns, parts, tests)
run("brews_few", brews(13, 0.6, 0.4, 0, n = 45), columns, parts, tests)
run("brews_two_zeros", brews(14, 0.6, 0, 0, n = 50), columns, parts, tests)

# Correlated neighbours: each session brews one coffee, AR(1) within the session, some brews missing; nlme by REML.
serial <- function() {
  set.seed(21)
  session <- rep(1:15, rep(c(8, 6, 7, 9, 10), 3))
  order <- unlist(lapply(table(session), seq_len))
  coffee <- (session - 1) %% 5 + 1
  n <- length(session)
  grind <- round(rnorm(n), 2)
  noise <- unlist(lapply(table(session), function(m) as.numeric(arima.sim(list(ar = 0.6), m, sd = 0.4))))
  rows <- data.frame(session, order, coffee, grind, y = round(20 + 0.4 * grind + rnorm(5)[coffee] + noise, 3))
  rows[-c(5, 23, 24, 60), ]
}
note_serial <- function(case, fit, coefs, errors) {
  note(case, "rho", "", coef(fit$modelStruct$corStruct, unconstrained = FALSE))
  for (term in names(coefs)) {
    note(case, "estimate", term, coefs[[term]])
    note(case, "std_error", term, errors[[term]])
  }
  note(case, "sigma", "", fit$sigma)
  note(case, "reml_criterion", "", -2 * as.numeric(logLik(fit)))
}
rows <- serial()
alone <- nlme::gls(y ~ grind, data = rows, correlation = nlme::corAR1(form = ~ order | session), method = "REML",
  control = nlme::glsControl(tolerance = 1e-12, msTol = 1e-14, maxIter = 500, msMaxIter = 500))
note_serial("serial_gls", alone, coef(alone), sqrt(diag(vcov(alone))))
by_coffee <- nlme::lme(y ~ grind, random = ~ 1 | coffee, data = rows, method = "REML",
  correlation = nlme::corAR1(form = ~ order | coffee / session),
  control = nlme::lmeControl(tolerance = 1e-12, msTol = 1e-14, maxIter = 500, msMaxIter = 500, niterEM = 100))
note_serial("serial_lme", by_coffee, nlme::fixef(by_coffee), sqrt(diag(vcov(by_coffee))))
note("serial_lme", "variance", "coffee", as.numeric(nlme::VarCorr(by_coffee)["(Intercept)", "Variance"]))
write.csv(rows, "serial.csv", row.names = FALSE, quote = FALSE)

write.csv(do.call(rbind, expected), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, sapply(c("lme4", "lmerTest", "nlme", "reshape2"), function(name) {
  paste(name, packageVersion(name))
})), "versions.txt")
