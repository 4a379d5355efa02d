# Reference numbers for limits of agreement. Base R only; run here as `Rscript generate.R`, it writes expected.csv.
# The tests read that file and never need R.
options(digits = 15)
out <- list()
note <- function(case, quantity, value) {
  out[[length(out) + 1]] <<- data.frame(case = case, quantity = quantity, value = sprintf("%.12g", value))
}
factor_of <- 1.96

# Limits and their intervals from differences d of means, and mean squares inside: list(c(share, mean square, df), ...).
# The noncentral t quantile is found by its own distribution function, not by qt.
nct_quantile <- function(p, df, ncp) {
  uniroot(function(q) suppressWarnings(pt(q, df, ncp)) - p, c(-5, 20 * (ncp + 5)), tol = 1e-12, maxiter = 10000)$root
}
limits <- function(case, d, inside = list()) {
  n <- length(d)
  interval <- t.test(d)$conf.int
  note(case, "bias", mean(d))
  note(case, "bias_low", interval[1])
  note(case, "bias_high", interval[2])
  terms <- c(var(d), vapply(inside, function(p) p[1] * p[2], 0))
  dfs <- c(n - 1, vapply(inside, function(p) p[3], 0))
  v <- sum(terms)
  df <- v^2 / sum(terms^2 / dfs)
  m <- n * v / var(d)
  note(case, "sd_single", sqrt(v))
  ends <- sqrt(v / m) * c(nct_quantile(0.025, df, factor_of * sqrt(m)), nct_quantile(0.975, df, factor_of * sqrt(m)))
  note(case, "lower", mean(d) - factor_of * sqrt(v))
  note(case, "lower_low", mean(d) - ends[2])
  note(case, "lower_high", mean(d) - ends[1])
  note(case, "upper", mean(d) + factor_of * sqrt(v))
  note(case, "upper_low", mean(d) + ends[1])
  note(case, "upper_high", mean(d) + ends[2])
}
trend <- function(case, x, y) {
  fit <- lm(I(y - x) ~ I((x + y) / 2))
  note(case, "trend", coef(fit)[2])
  note(case, "trend_low", confint(fit)[2, 1])
  note(case, "trend_high", confint(fit)[2, 2])
}

peak <- read.csv("peak_flow.csv")
limits("peak_flow", peak$wright - peak$mini)
trend("peak_flow", peak$mini, peak$wright)

# Bland and Altman 1999, 5.2: unequal replicates. Within variances by analysis of variance.
cardiac <- read.csv("cardiac.csv")
cardiac$subject <- factor(cardiac$subject)
within <- function(y, group) {
  table <- anova(lm(y ~ group))
  c(table["Residuals", "Mean Sq"], table["Residuals", "Df"])
}
rv <- tapply(cardiac$rv, cardiac$subject, mean)
ic <- tapply(cardiac$ic, cardiac$subject, mean)
share <- 1 - mean(1 / table(cardiac$subject))
limits("cardiac", as.vector(rv - ic), list(
  c(share, within(cardiac$rv, cardiac$subject)), c(share, within(cardiac$ic, cardiac$subject))
))

# Invented: 1 to 3 samples a brew and 1 to 4 readings a sample. What a single reading has beyond the means is found as
# expectations of quadratic forms: E(y'Qy) = trace(Q V), with V the covariance of all readings for one unit of each
# component. Nothing here uses a formula for replicates.
r <- read.csv("refractometers.csv")
r$brew <- factor(r$brew_id)
r$cell <- factor(paste(r$brew_id, r$sample_no))
a <- r$instrument_id == "R1"
brews <- levels(r$brew)
cells <- levels(r$cell)
n <- length(brews)
brew_of_cell <- sub(" .*", "", cells)
to_cell <- function(pick) t(sapply(cells, function(k) ifelse(r$cell == k & pick, 1, 0) / sum(r$cell == k & pick)))
difference <- to_cell(!a) - to_cell(a) # cells x readings
average <- t(sapply(brews, function(k) (brew_of_cell == k) / sum(brew_of_cell == k))) # brews x cells
centre <- function(m) diag(m) - 1 / m
D <- average %*% difference
Q_brews <- t(D) %*% centre(n) %*% D / (n - 1)
about <- diag(length(cells)) - t(sapply(brew_of_cell, function(k) (brew_of_cell == k) / sum(brew_of_cell == k)))
df_cells <- length(cells) - n
Q_cells <- t(difference) %*% crossprod(about) %*% difference / df_cells
residual <- function(pick) {
  index <- which(pick)
  Q <- matrix(0, nrow(r), nrow(r))
  for (k in cells) {
    here <- index[r$cell[index] == k]
    Q[here, here] <- centre(length(here))
  }
  df <- length(index) - length(cells)
  list(Q = Q / df, df = df)
}
within_a <- residual(a)
within_b <- residual(!a)
# Covariances for one unit of: what a brew moves b against a, what a sample does, readings of a, readings of b.
V_brew <- outer(r$brew, r$brew, "==") * outer(!a, !a)
V_cell <- outer(r$cell, r$cell, "==") * outer(!a, !a)
V_a <- diag(as.numeric(a))
V_b <- diag(as.numeric(!a))
covariances <- list(V_brew, V_cell, V_a, V_b)
forms <- list(Q_brews, Q_cells, within_a$Q, within_b$Q)
expected <- t(sapply(forms, function(Q) sapply(covariances, function(V) sum(Q * V)))) # forms x components
weights <- solve(t(expected), rep(1, 4)) # a difference of two single readings has one of each component
y <- r$strength_pct
squares <- sapply(forms, function(Q) drop(t(y) %*% Q %*% y))
stopifnot(abs(weights[1] - 1) < 1e-12)
dfs <- c(n - 1, df_cells, within_a$df, within_b$df)
d <- drop(D %*% y)
limits("refractometers", d, lapply(2:4, function(i) c(weights[i], squares[i], dfs[i])))
for (i in 2:4) {
  name <- c("", "samples", "readings_a", "readings_b")[i]
  note("refractometers", paste0(name, "_share"), weights[i])
  note("refractometers", paste0(name, "_variance"), squares[i])
  note("refractometers", paste0(name, "_df"), dfs[i])
}
trend("refractometers", drop(average %*% to_cell(a) %*% y), drop(average %*% to_cell(!a) %*% y))

write.csv(do.call(rbind, out), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(R.version.string, "versions.txt")
