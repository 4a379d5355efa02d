# Reference numbers for effects with slopes that differ by coffee and levels crossed with operator and session:
# lme4 fits by REML, lmerTest gives Satterthwaite's degrees of freedom and F. Run here as `Rscript generate.R`; it reads
# ../mixed/inputs.csv, writes inputs.csv (invented brews) and expected.csv. The tests never need R.
suppressPackageStartupMessages({
  library(lme4)
  library(lmerTest)
})
options(digits = 15)
tight <- lmerControl(
  optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, ftol_abs = 1e-14, maxeval = 100000),
  check.conv.singular = "ignore"
)
expected <- list()
note <- function(case, quantity, term, value) {
  expected[[length(expected) + 1]] <<- data.frame(
    case = case, quantity = quantity, term = term, value = sprintf("%.12g", value)
  )
}
report <- function(case, fit, joint = NULL) {
  table <- coef(summary(fit, ddf = "Satterthwaite"))
  for (term in rownames(table)) {
    note(case, "estimate", term, table[term, "Estimate"])
    note(case, "std_error", term, table[term, "Std. Error"])
    note(case, "df", term, table[term, "df"])
    note(case, "p_value", term, table[term, "Pr(>|t|)"])
  }
  parts <- as.data.frame(VarCorr(fit))
  for (k in seq_len(nrow(parts))) note(case, "sd", paste(parts$grp[k], parts$var1[k]), parts$sdcor[k])
  note(case, "singular", "", as.numeric(isSingular(fit)))
  if (!is.null(joint)) {
    f <- contestMD(fit, diag(nrow(table))[joint, , drop = FALSE])
    note(case, "F", "grind", f[["F value"]])
    note(case, "df_num", "grind", f[["NumDF"]])
    note(case, "df_den", "grind", f[["DenDF"]])
    note(case, "p_F", "grind", f[["Pr(>F)"]])
  }
}

# The curve case of ../mixed, each coffee now with slopes of its own.
curve <- subset(read.csv("../mixed/inputs.csv", colClasses = c(group = "character")), case == "brews_curve")
curve$a <- curve$x1 - mean(curve$x1)
curve$b <- curve$x2 - mean(curve$x2)
curve$a2 <- curve$a^2
curve$ab <- curve$a * curve$b
report("curve", lmerTest::lmer(y ~ a + b + a2 + ab + (1 | group) + (0 + a | group) + (0 + b | group),
  data = curve, control = tight), joint = c(2, 4, 5))

# Crossed: six coffees, three operators, nine sessions of unequal size, grind slopes that differ by coffee.
set.seed(20261125)
n <- 96
brews <- data.frame(
  coffee = paste0("c", sample(6, n, replace = TRUE)),
  operator = paste0("o", sample(3, n, replace = TRUE)),
  session = paste0("s", sort(sample(9, n, replace = TRUE)))
)
brews$grind <- sample(-4:4, n, replace = TRUE) / 2
brews$temp <- 93 + round(rnorm(n, 0, 1.5), 1)
level <- rnorm(6); slope <- 0.4 + 0.35 * rnorm(6); who <- 0.5 * rnorm(3); when <- 0.5 * rnorm(9)
c_no <- as.integer(sub("c", "", brews$coffee))
brews$y <- round(20 + level[c_no] + slope[c_no] * brews$grind + 0.1 * (brews$temp - 93) +
  who[as.integer(sub("o", "", brews$operator))] + when[as.integer(sub("s", "", brews$session))] + rnorm(n, 0, 0.5), 3)
brews$g <- brews$grind - mean(brews$grind)
brews$t <- brews$temp - mean(brews$temp)
whole <- lmerTest::lmer(y ~ g + t + (1 | coffee) + (0 + g | coffee) + (0 + t | coffee) + (1 | operator) + (1 | session),
  data = brews, control = tight)
report("crossed", whole)
write.csv(brews[c("coffee", "operator", "session", "grind", "temp", "y")], "inputs.csv", row.names = FALSE)
without <- lmerTest::lmer(y ~ g + t + (1 | coffee) + (0 + t | coffee) + (1 | operator) + (1 | session),
  data = brews, control = tight)
note("crossed", "drop", "g by coffee", REMLcrit(without) - REMLcrit(whole))

# Each coffee's own slope, and F for "all alike": least squares with a level for each coffee, the last 3 coffees only.
three <- subset(brews, coffee %in% c("c1", "c2", "c3"))
three$g <- three$grind - mean(three$grind)
three$t <- three$temp - mean(three$temp)
own <- lm(y ~ 0 + coffee + coffee:g + t, data = three)
own_table <- coef(summary(own))
for (name in c("c1", "c2", "c3")) {
  row <- paste0("coffee", name, ":g")
  note("three", "estimate", name, own_table[row, "Estimate"])
  note("three", "std_error", name, own_table[row, "Std. Error"])
}
alike <- anova(lm(y ~ 0 + coffee + g + t, data = three), own)
note("three", "F", "g", alike[["F"]][2])
note("three", "p_F", "g", alike[["Pr(>F)"]][2])
note("three", "df_den", "g", alike[["Res.Df"]][2])
# CR2, coffees as clusters, every coffee at a level of its own (sessions and operators left out).
suppressPackageStartupMessages(library(clubSandwich))
levels <- lm(y ~ 0 + coffee + g + t, data = brews)
robust <- coef_test(levels, vcov = vcovCR(levels, cluster = brews$coffee, type = "CR2"), test = "Satterthwaite")
for (name in c("g", "t")) {
  row <- robust[robust$Coef == name, ]
  note("cr2", "estimate", name, row$beta)
  note("cr2", "std_error", name, row$SE)
  note("cr2", "df", name, row$df_Satt)
}
write.csv(do.call(rbind, expected), "expected.csv", row.names = FALSE)
writeLines(c(R.version.string, paste(c("lme4", "lmerTest", "clubSandwich"),
  sapply(c("lme4", "lmerTest", "clubSandwich"), function(p) as.character(packageVersion(p))))), "versions.txt")
