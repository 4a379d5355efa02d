# Reference numbers for CR2: clubSandwich's covariance of lm() fits and Satterthwaite's degrees of freedom.
# Run here as `Rscript generate.R`; it writes <case>.csv (y, fixed columns in order, cluster) and expected.csv.
suppressPackageStartupMessages(library(clubSandwich))
options(digits = 15)
expected <- list()
run <- function(case, data, columns) {
  fit <- lm(as.formula(paste("y ~", paste(c("1", columns), collapse = " + "))), data = data)
  covariance <- vcovCR(fit, cluster = data$cluster, type = "CR2")
  table <- coef_test(fit, vcov = covariance, test = "Satterthwaite")
  for (k in seq_len(nrow(table))) {
    term <- names(coef(fit))[k]
    df <- if ("df_Satt" %in% names(table)) table$df_Satt[k] else table$df[k]
    p <- if ("p_Satt" %in% names(table)) table$p_Satt[k] else table$p_val[k]
    values <- c(estimate = coef(fit)[[k]], std_error = table$SE[k], df = df, p_value = p)
    expected[[length(expected) + 1]] <<- data.frame(
      case = case, term = term, quantity = names(values), value = sprintf("%.14g", values)
    )
  }
  keep <- cbind(data["y"], data[columns], cluster = data$cluster)
  write.csv(format(keep, digits = 15, trim = TRUE), paste0(case, ".csv"), row.names = FALSE, quote = FALSE)
}

# Public: sleepstudy (Belenky et al. 2003, in lme4), unbalanced as in the mixed folder.
data(sleepstudy, package = "lme4")
odd <- sleepstudy[seq_len(nrow(sleepstudy)) %% 3 != 0 & seq_len(nrow(sleepstudy)) %% 7 != 0, ]
odd <- odd[!(odd$Subject %in% c("308", "333", "370") & odd$Days > 2), ]
odd$y <- odd$Reaction
odd$cluster <- as.integer(factor(odd$Subject)) - 1L
run("sleepstudy_unbalanced", odd, "Days")

# Invented brews of six coffees: factors within and between coffees, then an intercept for every coffee, which makes
# I - H singular within each, with one coffee brewed only twice.
set.seed(31)
cluster <- rep(0:5, c(18, 12, 10, 8, 10, 2))
n <- length(cluster)
brews <- data.frame(cluster, grind = round(rnorm(n, 0, 2) + 0.3 * cluster, 1), temp = round(rnorm(n), 1))
brews$dark <- as.numeric(brews$cluster >= 3)
brews$y <- round(20 + 0.4 * brews$grind + rnorm(6)[cluster + 1] + rnorm(6, 0, 0.3)[cluster + 1] * brews$grind + rnorm(n, 0, 0.5), 3)
run("brews", brews, c("grind", "temp", "dark"))
for (own in 1:5) brews[[paste0("coffee", own)]] <- as.numeric(brews$cluster == own)
run("brews_each_coffee", brews, c("grind", "temp", paste0("coffee", 1:5)))

write.csv(do.call(rbind, expected), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, paste("clubSandwich", packageVersion("clubSandwich"))), "versions.txt")
