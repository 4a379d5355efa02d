# Reference numbers for logistic regression with Firth's penalty.
# Estimates and standard errors: brglm2 (type = "AS_mean", which is Firth's for the logistic link), and "MPL_Jeffreys".
# Profile intervals, tests and risk differences: base R alone (nlminb and uniroot on the penalised log-likelihood
# written out below), because brglm2 does not profile it.
# Run here as `Rscript generate.R`; it writes inputs.csv and expected.csv. The tests read those and never need R.
suppressPackageStartupMessages({
  library(brglm2)
  library(MASS)
})
options(digits = 15)
inputs <- list()
expected <- list()
note <- function(case, quantity, term, value) {
  expected[[length(expected) + 1]] <<- data.frame(
    case = case, quantity = quantity, term = term, value = sprintf("%.12g", value)
  )
}

# Log-likelihood plus half the log-determinant of the Fisher information (Firth 1993; Heinze & Schemper 2002).
penalised <- function(beta, y, x) {
  eta <- as.vector(x %*% beta)
  w <- plogis(eta) * plogis(-eta)
  information <- crossprod(x, x * w)
  half <- determinant(information, logarithm = TRUE)
  if (half$sign <= 0 || !is.finite(half$modulus)) return(-1e6)
  sum(y * eta + plogis(-eta, log.p = TRUE)) + as.numeric(half$modulus) / 2
}

# From every start on, and the highest kept: a profile can have two tops where the rows are separated.
climb <- function(f, ...) {
  start <- list(...)
  if (length(start[[1]]) == 0) return(list(value = f(start[[1]]), par = start[[1]]))
  tops <- lapply(start, function(from) climb_once(f, from))
  tops[[which.max(sapply(tops, function(top) top$value))]]
}

climb_once <- function(f, best) {
  for (round in 1:8) {  # restarts: the search forgets a bad curvature
    now <- nlminb(best, function(b) -f(b), control = list(rel.tol = 1e-15, x.tol = 1e-14, eval.max = 5000, iter.max = 5000))
    done <- abs(f(best) + now$objective) < 1e-11
    best <- now$par
    if (done) break
  }
  list(par = best, value = f(best))
}

ends <- function(statistic, centre, step, least = -Inf, most = Inf) {
  cut <- qchisq(0.95, 1)
  side <- function(sign) {
    far <- centre
    width <- step
    repeat {
      far <- min(max(far + sign * width, least), most)
      if (statistic(far) > cut) break
      width <- width * 1.5
    }
    uniroot(function(v) statistic(v) - cut, sort(c(centre, far)), tol = 1e-10)$root
  }
  c(side(-1), side(1))
}

run <- function(case, y, x) {
  columns <- colnames(x)
  data <- data.frame(y = y, x)
  formula <- as.formula(paste("y ~", paste(columns, collapse = " + ")))
  control <- brglmControl(epsilon = 1e-12, maxit = 10000)
  fit <- glm(formula, family = binomial("logit"), data = data, method = "brglmFit", type = "AS_mean", control = control)
  jeffreys <- glm(formula, family = binomial("logit"), data = data, method = "brglmFit", type = "MPL_Jeffreys", control = control)
  table <- coef(summary(fit))
  for (term in rownames(table)) {
    note(case, "estimate", term, table[term, "Estimate"])
    note(case, "estimate_jeffreys", term, coef(jeffreys)[term])
    note(case, "std_error", term, table[term, "Std. Error"])
  }
  # Columns of unit spread for the search; estimates are carried back.
  spread <- c(1, apply(x, 2, sd))
  full <- cbind(1, x) %*% diag(1 / spread)
  beta <- coef(fit) * spread
  top <- climb(function(b) penalised(b, y, full), beta)
  note(case, "penalised_log_likelihood", "", penalised(coef(fit), y, cbind(1, x)))
  for (j in seq_along(beta)) {
    # starts: the others at the top, and moved along with v as the covariance has it
    spreads <- vcov(fit) * outer(spread, spread)
    statistic <- function(v) {
      far <- sqrt(diag(spreads))[-j]
      moved <- top$par[-j] + (v - top$par[j]) * spreads[-j, j] / spreads[j, j]
      held <- climb(function(free) penalised(append(free, v, after = j - 1), y, full), top$par[-j], moved, moved + far, moved - far, moved + c(1, -1, 1, -1, 1)[seq_along(far)] * 3 * far,
        moved - c(1, -1, 1, -1, 1)[seq_along(far)] * 3 * far)
      2 * (top$value - held$value)
    }
    term <- rownames(table)[j]
    found <- ends(statistic, beta[j], table[j, "Std. Error"] * spread[j])
    note(case, "low", term, found[1] / spread[j])
    note(case, "high", term, found[2] / spread[j])
    zero <- statistic(0)
    note(case, "statistic", term, zero)
    note(case, "p_value", term, pchisq(zero, 1, lower.tail = FALSE))
  }
  inputs[[length(inputs) + 1]] <<- data.frame(
    case = case, y = y, x1 = x[, 1], x2 = if (ncol(x) > 1) x[, 2] else NA, x3 = if (ncol(x) > 2) x[, 3] else NA,
    x4 = if (ncol(x) > 3) x[, 4] else NA
  )
  risk_difference(case, y, x)
}

# From the mean of every column to one unit more of the first: the difference of the two risks, profiled by holding it
# and letting the risk at the mean and the other coefficients go.
risk_difference <- function(case, y, x) {
  middle <- scale(x, scale = FALSE)
  spread <- c(1, 1, apply(x, 2, sd)[-1])
  full <- cbind(1, middle) %*% diag(1 / spread, nrow = ncol(x) + 1)
  top <- climb(function(b) penalised(b, y, full), coef(glm(
    y ~ ., family = binomial("logit"), data = data.frame(y = y, middle), method = "brglmFit", type = "AS_mean"
  )) * spread)
  difference <- plogis(top$par[1] + top$par[2]) - plogis(top$par[1])
  others <- top$par[-(1:2)]
  statistic <- function(v) {
    # the risk at the mean runs between max(0, -v) and min(1, 1 - v)
    floor <- max(0, -v)
    room <- 1 - abs(v)
    risk <- function(t) floor + room * plogis(t)
    objective <- function(free) {
      p <- risk(free[1])
      if (p <= 0 || p >= 1 || p + v <= 0 || p + v >= 1) return(-1e6)
      penalised(c(qlogis(p), qlogis(p + v) - qlogis(p), free[-1]), y, full)
    }
    begin <- min(max((plogis(top$par[1]) - floor) / room, 0.02), 0.98)
    held <- climb(objective, c(qlogis(begin), others), c(0, others), c(-2, others), c(2, others))
    2 * (top$value - held$value)
  }
  found <- ends(statistic, difference, 0.05, least = -0.999, most = 0.999)
  note(case, "risk_difference", "x1", difference)
  note(case, "risk_difference_low", "x1", found[1])
  note(case, "risk_difference_high", "x1", found[2])
}

# Heinze & Schemper (2002), table 2: endometrial cancer, NV separates high grade from low.
data("endometrial", package = "brglm2")
run("endometrial", endometrial$HG, as.matrix(endometrial[c("NV", "PI", "EH")]))

# Hosmer & Lemeshow's low birth weight data (MASS), an ordinary set.
run("birthwt", birthwt$low, as.matrix(birthwt[c("smoke", "age", "lwt", "ht")]))

# Perfectly separated: every brew at 2 steps finer or more channeled, no other did.
run("separated", c(0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 1),
  cbind(x1 = c(-3, -2, -2, -1, 0, 0, 1, 2, 2, 3, 3, 4), x2 = c(18.1, 17.9, 18.0, 18.2, 18.1, 17.8, 18.0, 18.1, 17.9, 18.0, 18.2, 17.8)))

# Invented: few channeled brews, a grind, a dose, an operator (centred); the usual size of a practice log.
set.seed(20261101)
n <- 48
grind <- round(rnorm(n, sd = 1.5) * 2) / 2
dose <- round(18 + rnorm(n, sd = 0.25), 1)
other <- as.numeric(runif(n) < 0.4)
seen <- as.numeric(runif(n) < plogis(-2.2 + 0.6 * grind + 0.8 * other))
run("practice", seen, cbind(x1 = grind, x2 = dose, x3 = other))

write.csv(do.call(rbind, inputs), "inputs.csv", row.names = FALSE, quote = FALSE, na = "")
write.csv(do.call(rbind, expected), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, paste("brglm2", packageVersion("brglm2")), paste("MASS", packageVersion("MASS"))), "versions.txt")
