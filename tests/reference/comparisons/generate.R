# Comparisons of several means by R: emmeans (Tukey, mvt), multcomp (Dunnett), lmerTest (Satterthwaite), base R (TOST).
# Run in this folder: Rscript generate.R
suppressMessages({library(emmeans); library(multcomp); library(lmerTest)})
options(digits = 15)
set.seed(20260)
write.csv(warpbreaks, "warpbreaks.csv", row.names = FALSE, quote = FALSE)
stool <- nlme::ergoStool
write.csv(data.frame(effort = stool$effort, Type = stool$Type, Subject = paste0("s", stool$Subject)),
          "ergo_stool.csv", row.names = FALSE, quote = FALSE)

rows <- list()
keep <- function(case, pairs, ci, alike) {
  rows[[length(rows) + 1]] <<- data.frame(
    case = case, pair = gsub(" ", "", pairs$contrast), estimate = pairs$estimate, std_error = pairs$SE, df = pairs$df,
    p_value = pairs$p.value, low = ci$lower.CL, high = ci$upper.CL, alike_p = alike)
}
tost <- function(pairs, margin) {
  each <- pmax(pt((pairs$estimate + margin) / pairs$SE, pairs$df, lower.tail = FALSE),
               pt((pairs$estimate - margin) / pairs$SE, pairs$df))
  p.adjust(each, "holm")
}
warp <- lm(breaks ~ tension + wool, warpbreaks)
means <- emmeans(warp, "tension")
tukey <- pairs(means, reverse = TRUE)
keep("warp_tukey", summary(tukey), confint(tukey), tost(summary(tukey), 15))
against <- contrast(means, "trt.vs.ctrl", ref = 1, adjust = "mvt")
keep("warp_dunnett", summary(against), confint(against), tost(summary(against), 15))
print(summary(glht(warp, linfct = mcp(tension = "Dunnett"))))

fit <- lmer(effort ~ Type + (1 | Subject), stool)
stools <- emmeans(fit, "Type", lmer.df = "satterthwaite")
all <- pairs(stools, reverse = TRUE)
keep("stool_tukey", summary(all), confint(all), tost(summary(all), 2))
write.csv(do.call(rbind, rows), "expected.csv", row.names = FALSE, quote = FALSE)
cat(R.version.string, as.character(packageVersion("emmeans")), as.character(packageVersion("multcomp")), "\n")
