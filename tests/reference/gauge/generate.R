# Reference numbers for gauge studies. Run here as `Rscript generate.R`; it writes inputs.csv (only the invented cases;
# the published data stand in aiag.csv), expected.csv and versions.txt. The tests read those files and never need R.
#
# Balanced: stats::aov, and the modified large-sample intervals one quantity at a time in closed form, as Burdick,
# Borror and Montgomery (2005, chapter 3) print them for the two-way model with interaction.
# Gaps: lme4 by REML, brews and readers crossed.
suppressPackageStartupMessages(library(lme4))
options(digits = 15)
tight <- lmerControl(
  optimizer = "nloptwrap", optCtrl = list(xtol_abs = 1e-12, ftol_abs = 1e-14, maxeval = 100000),
  check.conv.singular = "ignore"
)
expected <- list()
inputs <- list()
note <- function(case, quantity, term, value) {
  expected[[length(expected) + 1]] <<- data.frame(
    case = case, quantity = quantity, term = term, value = sprintf("%.12g", value)
  )
}

balanced <- function(case, data) {
  b <- nlevels(data$brew); o <- nlevels(data$reader); r <- nrow(data) / (b * o)
  for (model in c("with", "without")) {
    right <- if (model == "with") "brew * reader" else "brew + reader"
    table <- summary(aov(as.formula(paste("tds_pct ~", right)), data = data))[[1]]
    terms <- if (model == "with") c("brew", "reader", "interaction", "repeat") else c("brew", "reader", "repeat")
    for (k in seq_along(terms)) {
      note(paste(case, model), "squares", terms[k], table[k, "Sum Sq"])
      note(paste(case, model), "df", terms[k], table[k, "Df"])
    }
  }
  ms <- summary(aov(tds_pct ~ brew * reader, data = data))[[1]][, "Mean Sq"]
  mls(paste(case, "with"), ms, b, o, r)
}

mls <- function(case, ms, b, o, r, alpha = 0.05) {
  P <- ms[1]; O <- ms[2]; I <- ms[3]; E <- ms[4]
  nP <- b - 1; nO <- o - 1; nI <- nP * nO; nE <- b * o * (r - 1)
  hi <- function(x, y) qf(1 - alpha / 2, x, y)
  lo <- function(x, y) qf(alpha / 2, x, y)
  G <- function(n) 1 - n / qchisq(1 - alpha / 2, n)
  H <- function(n) n / qchisq(alpha / 2, n) - 1
  Gc <- function(n, m) ((hi(n, m) - 1)^2 - G(n)^2 * hi(n, m)^2 - H(m)^2) / hi(n, m)
  Hc <- function(n, m) ((1 - lo(n, m))^2 - H(n)^2 * lo(n, m)^2 - G(m)^2) / lo(n, m)
  out <- function(term, estimate, below, above, divisor) {
    note(case, "estimate", term, estimate)
    note(case, "low", term, max(0, estimate - sqrt(max(0, below)) / divisor))
    note(case, "high", term, max(0, estimate + sqrt(max(0, above)) / divisor))
  }
  pair <- function(term, X, nX, Y, nY, divisor) out(
    term, (X - Y) / divisor,
    G(nX)^2 * X^2 + H(nY)^2 * Y^2 + Gc(nX, nY) * X * Y,
    H(nX)^2 * X^2 + G(nY)^2 * Y^2 + Hc(nX, nY) * X * Y, divisor
  )
  out("repeatability", E, (G(nE) * E)^2, (H(nE) * E)^2, 1)
  pair("brew_to_brew", P, nP, I, nI, o * r)
  pair("reader", O, nO, I, nI, b * r)
  pair("interaction", I, nI, E, nE, r)
  star <- (1 - 1 / hi(b * (o - 1), Inf))^2 * b^2 / (b - 1) - G(nO)^2 / (b - 1) - G(nI)^2 * (b - 1)
  out(
    "reproducibility", (O + (b - 1) * I - b * E) / (b * r),
    G(nO)^2 * O^2 + G(nI)^2 * (b - 1)^2 * I^2 + H(nE)^2 * b^2 * E^2 + Gc(nO, nE) * b * O * E +
      Gc(nI, nE) * (b - 1) * b * I * E + star * (b - 1) * O * I,
    H(nO)^2 * O^2 + H(nI)^2 * (b - 1)^2 * I^2 + G(nE)^2 * b^2 * E^2 + Hc(nO, nE) * b * O * E +
      Hc(nI, nE) * (b - 1) * b * I * E, b * r
  )
  out(
    "gauge", (O + (b - 1) * I + b * (r - 1) * E) / (b * r),
    G(nO)^2 * O^2 + G(nI)^2 * (b - 1)^2 * I^2 + G(nE)^2 * b^2 * (r - 1)^2 * E^2,
    H(nO)^2 * O^2 + H(nI)^2 * (b - 1)^2 * I^2 + H(nE)^2 * b^2 * (r - 1)^2 * E^2, b * r
  )
  w <- c(b, o, b * o - b - o, b * o * (r - 1)); n <- c(nP, nO, nI, nE)
  out("total", sum(w * ms) / (b * o * r), sum((G(n) * w * ms)^2), sum((H(n) * w * ms)^2), b * o * r)
  # Gauge over total from the interval of brew-to-brew over gauge, same source.
  low <- b * (1 - G(nP)) * (P - hi(nP, nI) * I) / (b * o * (r - 1) * E + o * (1 - G(nP)) * hi(nP, nO) * O + o * (b - 1) * I)
  high <- b * (1 + H(nP)) * (P - lo(nP, nI) * I) / (b * o * (r - 1) * E + o * (1 + H(nP)) * lo(nP, nO) * O + o * (b - 1) * I)
  note(case, "low", "gauge_share", 1 / (1 + max(0, high)))
  note(case, "high", "gauge_share", 1 / (1 + max(0, low)))
}

crossed <- function(case, data) {
  fit <- lmer(tds_pct ~ 1 + (1 | brew) + (1 | reader) + (1 | brew:reader), data = data, control = tight)
  parts <- as.data.frame(VarCorr(fit))
  names <- c(brew = "brew", reader = "reader", "brew:reader" = "interaction", Residual = "repeat")
  for (k in seq_len(nrow(parts))) note(case, "variance", names[[parts$grp[k]]], parts$vcov[k])
  note(case, "mean", "", fixef(fit)[[1]])
  note(case, "mean_se", "", sqrt(vcov(fit)[1, 1]))
  note(case, "reml_criterion", "", REMLcrit(fit))
  note(case, "singular", "", as.numeric(isSingular(fit, tol = 1e-5)))
}

additive <- function(case, data) {
  fit <- lmer(tds_pct ~ 1 + (1 | brew) + (1 | reader), data = data, control = tight)
  parts <- as.data.frame(VarCorr(fit))
  names <- c(brew = "brew", reader = "reader", Residual = "repeat")
  for (k in seq_len(nrow(parts))) note(case, "variance", names[[parts$grp[k]]], parts$vcov[k])
  note(case, "mean", "", fixef(fit)[[1]])
  note(case, "mean_se", "", sqrt(vcov(fit)[1, 1]))
  note(case, "reml_criterion", "", REMLcrit(fit))
  note(case, "singular", "", as.numeric(isSingular(fit, tol = 1e-5)))
}

keep <- function(case, data) {
  inputs[[length(inputs) + 1]] <<- data.frame(case = case, data[, c("brew", "reader", "tds_pct")])
}

invented <- function(seed, b, o, r, sd_brew, sd_reader, sd_both, sd_repeat, step = 0.001) {
  set.seed(seed)
  data <- expand.grid(k = seq_len(r), reader = factor(LETTERS[seq_len(o)]), brew = factor(sprintf("b%02d", seq_len(b))))
  cell <- interaction(data$brew, data$reader)
  data$tds_pct <- 1.35 + rnorm(b, 0, sd_brew)[data$brew] + rnorm(o, 0, sd_reader)[data$reader] +
    rnorm(nlevels(cell), 0, sd_both)[cell] + rnorm(nrow(data), 0, sd_repeat)
  data$tds_pct <- round(data$tds_pct / step) * step
  data
}

wide <- read.csv("aiag.csv", header = FALSE)
aiag <- data.frame(
  brew = factor(rep(sprintf("p%02d", 1:10), each = 9)), reader = factor(rep(rep(c("A", "B", "C"), each = 3), 10)),
  tds_pct = as.vector(t(as.matrix(wide)))
)
balanced("aiag", aiag)
crossed("aiag", aiag)
crossed("aiag_gaps", aiag[-c(1, 8, 14, 15, 22, 37, 38, 39, 50, 61, 77, 90), ])

full <- invented(3, 8, 3, 3, 0.06, 0.012, 0.010, 0.008)
keep("invented", full)
balanced("invented", full)
crossed("invented", full)
gaps <- full[-c(2, 3, 10, 11, 12, 23, 31, 45, 52, 53, 54, 60, 70, 72), ]
keep("invented_gaps", gaps)
crossed("invented_gaps", gaps)
small <- invented(8, 5, 2, 2, 0.03, 0.01, 0.006, 0.005)
keep("small_gaps", small[-c(1, 8, 13), ])
crossed("small_gaps", small[-c(1, 8, 13), ])
flat <- invented(12, 6, 3, 2, 0.05, 0.0, 0.0, 0.010)
keep("no_reader_gaps", flat[-c(4, 11, 12, 29), ])
crossed("no_reader_gaps", flat[-c(4, 11, 12, 29), ])

# The Penicillin data of lme4 (Davies and Goldsmith 1972): one reading of each of 24 plates by each of 6 samples.
data(Penicillin, package = "lme4")
one_each <- data.frame(brew = Penicillin$plate, reader = Penicillin$sample, tds_pct = Penicillin$diameter)
keep("one_each", one_each)
additive("one_each", one_each)
holes <- one_each[-c(3, 17, 18, 40, 71, 72, 95, 110, 143), ]
keep("one_each_gaps", holes)
additive("one_each_gaps", holes)

write.csv(do.call(rbind, inputs), "inputs.csv", row.names = FALSE, quote = FALSE)
write.csv(do.call(rbind, expected), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, paste("lme4", packageVersion("lme4"))), "versions.txt")
