# Reference numbers for random-intercept models: lme4 fits by REML, lmerTest gives Satterthwaite's degrees of freedom.
# Run here as `Rscript generate.R`; it writes inputs.csv (case, group, y and the columns of the design) and expected.csv.
# The tests read those two files and never need R.
suppressPackageStartupMessages({
  library(lme4)
  library(lmerTest)
})
options(digits = 15)
tight <- lmerControl(
  optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, ftol_abs = 1e-14, maxeval = 100000),
  check.conv.singular = "ignore"
)

inputs <- list()
expected <- list()

note <- function(case, quantity, term, value) {
  expected[[length(expected) + 1]] <<- data.frame(
    case = case, quantity = quantity, term = term, value = sprintf("%.12g", value)
  )
}

note_fixed <- function(case, fit) {
  table <- coef(summary(fit, ddf = "Satterthwaite"))
  for (term in rownames(table)) {
    note(case, "estimate", term, table[term, "Estimate"])
    note(case, "std_error", term, table[term, "Std. Error"])
    note(case, "df", term, table[term, "df"])
    note(case, "p_value", term, table[term, "Pr(>|t|)"])
  }
}

# `columns` name the fixed effects in `data`, in order; an intercept always comes first.
run <- function(case, data, columns, group = "group") {
  data$group <- as.character(data[[group]])
  right <- paste(c("1", columns, "(1 | group)"), collapse = " + ")
  fit <- lmerTest::lmer(as.formula(paste("y ~", right)), data = data, REML = TRUE, control = tight)
  note_fixed(case, fit)
  components <- as.data.frame(VarCorr(fit))
  note(case, "variance", "group", components$vcov[components$grp == "group"])
  note(case, "variance", "residual", components$vcov[components$grp == "Residual"])
  note(case, "reml_criterion", "", REMLcrit(fit))
  note(case, "singular", "", as.numeric(isSingular(fit)))
  keep <- data.frame(case = case, group = data$group, y = data$y)
  for (k in 1:4) keep[[paste0("x", k)]] <- if (k <= length(columns)) data[[columns[k]]] else NA
  inputs[[length(inputs) + 1]] <<- keep
}

data(sleepstudy, package = "lme4")
sleepstudy$y <- sleepstudy$Reaction
run("sleepstudy", sleepstudy, "Days", "Subject")

# The same, unbalanced: every row whose number is divisible by 3 or 7 left out, and three subjects cut to their first days.
odd <- sleepstudy[seq_len(nrow(sleepstudy)) %% 3 != 0 & seq_len(nrow(sleepstudy)) %% 7 != 0, ]
odd <- odd[!(odd$Subject %in% c("308", "333", "370") & odd$Days > 2), ]
run("sleepstudy_unbalanced", odd, "Days", "Subject")

# Slopes that differ between subjects: intercept, covariance and slope are the three components.
slopes <- function(case, data) {
  fit <- lmerTest::lmer(y ~ 1 + Days + (1 + Days | Subject), data = data, REML = TRUE, control = tight)
  note_fixed(case, fit)
  covariance <- VarCorr(fit)$Subject
  note(case, "variance", "intercept", covariance[1, 1])
  note(case, "variance", "covariance", covariance[1, 2])
  note(case, "variance", "slope", covariance[2, 2])
  note(case, "variance", "residual", sigma(fit)^2)
  note(case, "reml_criterion", "", REMLcrit(fit))
}
slopes("slopes_sleepstudy", sleepstudy)
slopes("slopes_sleepstudy_unbalanced", odd)

data(Dyestuff, package = "lme4")
Dyestuff$y <- Dyestuff$Yield
run("dyestuff", Dyestuff, character(0), "Batch")

# Dyestuff2 is the textbook singular fit: the batch variance is estimated as zero.
data(Dyestuff2, package = "lme4")
Dyestuff2$y <- Dyestuff2$Yield
run("dyestuff2_singular", Dyestuff2, character(0), "Batch")

data(cake, package = "lme4")
cake$y <- cake$angle
cake$batch <- interaction(cake$recipe, cake$replicate, drop = TRUE)
cake$recipe_b <- as.numeric(cake$recipe == "B")
cake$recipe_c <- as.numeric(cake$recipe == "C")
run("cake", cake, c("temp", "recipe_b", "recipe_c"), "batch")

# Invented brews: few coffees of very unequal size, a yes/no factor, and one factor that only differs between coffees.
set.seed(20260401)
sizes <- c(31, 22, 14, 9, 8, 4)
brews <- data.frame(coffee = rep(paste0("c", 1:6), sizes))
n <- nrow(brews)
level <- c(-1.1, 0.4, 0.9, -0.3, 0.7, -0.6)
roast <- c(1, 0, 1, 0, 0, 1)
brews$grind <- round(rnorm(n, sd = 2) * 2) / 2
brews$temp <- round(rnorm(n, 93, 1.5), 1)
brews$channeled <- as.numeric(runif(n) < plogis(-2 + 0.5 * brews$grind))
brews$dark <- rep(roast, sizes)
brews$y <- round(20 + rep(level, sizes) + 0.4 * brews$grind + 0.1 * (brews$temp - 93) - 1.8 * brews$channeled +
  0.3 * brews$dark + rnorm(n, sd = 0.7), 2)
run("brews", brews, c("grind", "temp", "channeled"), "coffee")
run("brews_between", brews, c("grind", "temp", "channeled", "dark"), "coffee")
run("brews_three_coffees", brews[brews$coffee %in% c("c1", "c2", "c3"), ], c("grind", "channeled"), "coffee")

# Centred, with a square and a product of the centred columns, as the toolkit builds them.
brews$grind_c <- brews$grind - mean(brews$grind)
brews$temp_c <- brews$temp - mean(brews$temp)
brews$grind_c2 <- brews$grind_c^2
brews$grind_temp <- brews$grind_c * brews$temp_c
run("brews_curve", brews, c("grind_c", "temp_c", "grind_c2", "grind_temp"), "coffee")

# Invented brews without any difference between coffees, small enough to land on the boundary.
set.seed(11)
flat <- data.frame(coffee = rep(paste0("c", 1:5), c(6, 7, 5, 8, 6)))
flat$grind <- round(rnorm(nrow(flat), sd = 2) * 2) / 2
flat$y <- round(20 + 0.4 * flat$grind + rnorm(nrow(flat), sd = 0.7), 2)
run("brews_singular", flat, "grind", "coffee")

write.csv(do.call(rbind, inputs), "inputs.csv", row.names = FALSE, quote = FALSE, na = "")
write.csv(do.call(rbind, expected), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, paste("lme4", packageVersion("lme4")), paste("lmerTest", packageVersion("lmerTest"))), "versions.txt")
