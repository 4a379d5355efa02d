# Reference numbers for predictions. Run here as `Rscript generate.R`; the tests never need R.
#   lm.csv, mixed.csv, both.csv   invented brews
#   expected.csv                  case, recipe, quantity, value
# lm: predict.lm. mixed: variances by lme4 (REML); then Henderson's mixed-model equations written out below, and the
# degrees of freedom from a REML deviance written out below, differentiated by numDeriv. both: nlme, yield and strength
# stacked, 2 x 2 covariances of coffees and of brews.
suppressPackageStartupMessages({
  library(lme4)
  library(nlme)
})
options(digits = 15)
set.seed(48, kind = "Mersenne-Twister", normal.kind = "Inversion", sample.kind = "Rejection")
expected <- list()
note <- function(case, recipe, quantity, value) {
  expected[[length(expected) + 1]] <<- data.frame(
    case = case, recipe = recipe, quantity = quantity, value = sprintf("%.14g", value)
  )
}

# ---- one coffee: least squares with a curve
n <- 26
lm_brews <- data.frame(
  grind = round(rnorm(n, 0, 1.5) * 2) / 2, temp = round(rnorm(n, 93, 1.5), 1)
)
lm_brews$yield <- round(20 + 0.5 * lm_brews$grind - 0.15 * lm_brews$grind^2 + 0.1 * (lm_brews$temp - 93) + rnorm(n, 0, 0.5), 3)
lm_brews$strength <- round(lm_brews$yield / 2.1 + rnorm(n, 0, 0.05), 4)
write.csv(lm_brews, "lm.csv", row.names = FALSE, quote = FALSE)
at <- data.frame(grind = c(0, 1, -1.25), temp = c(93, 93.5, 92.75))
for (response in c("yield", "strength")) {
  fit <- lm(as.formula(paste(response, "~ grind + I(grind^2) + temp")), lm_brews)
  for (kind in c("confidence", "prediction")) {
    found <- predict(fit, at, interval = kind, level = 0.95)
    for (k in seq_len(nrow(at))) {
      note("lm", k, paste(response, kind, "fit"), found[k, "fit"])
      note("lm", k, paste(response, kind, "low"), found[k, "lwr"])
      note("lm", k, paste(response, kind, "high"), found[k, "upr"])
    }
  }
}

# ---- six coffees of unequal size crossed with sessions, grind slopes by coffee
sizes <- c(16, 12, 9, 14, 7, 11)
n <- sum(sizes)
coffee <- rep(seq_along(sizes), sizes)
session <- sample(rep(1:8, length.out = n))
grind <- round(rnorm(n, 0, 1.2) * 2) / 2
temp <- round(rnorm(n, 93, 1.5), 1)
level <- rnorm(6, 0, 1.0); slope <- rnorm(6, 0, 0.6); day <- rnorm(8, 0, 0.6)
mixed <- data.frame(
  coffee = coffee, session = session, grind = grind, temp = temp,
  yield = round(20 + level[coffee] + day[session] + (0.4 + slope[coffee]) * grind + 0.1 * (temp - 93) + rnorm(n, 0, 0.5), 3)
)
mixed$strength <- round(mixed$yield / 2 + rnorm(n, 0, 0.1), 4)
write.csv(mixed, "mixed.csv", row.names = FALSE, quote = FALSE)
mixed$g <- mixed$grind - mean(mixed$grind); mixed$t <- mixed$temp - mean(mixed$temp)
tight <- lmerControl(
  optimizer = "nloptwrap", optCtrl = list(xtol_rel = 0, xtol_abs = 1e-12, ftol_rel = 0, ftol_abs = 0, maxeval = 5000),
  check.conv.singular = "ignore", check.conv.grad = "ignore", check.conv.hess = "ignore"
)
fit <- lmer(yield ~ g + t + (1 | coffee) + (0 + g | coffee) + (1 | session), mixed, REML = TRUE, control = tight)
found <- as.data.frame(VarCorr(fit))
theta <- c(
  residual = found$vcov[found$grp == "Residual"],
  coffee = found$vcov[grepl("^coffee", found$grp) & found$var1 %in% "(Intercept)"],
  slope = found$vcov[grepl("^coffee", found$grp) & found$var1 %in% "g"],
  session = found$vcov[found$grp == "session"]
)
for (name in names(theta)) note("mixed", 0, paste("variance", name), theta[[name]])
y <- mixed$yield
X <- cbind(1, mixed$g, mixed$t)
Zc <- model.matrix(~ 0 + factor(coffee), mixed)
Z <- cbind(Zc, Zc * mixed$g, model.matrix(~ 0 + factor(session), mixed))
groups <- c(6, 6, 8)

# Henderson's equations: coefficient matrix C of (beta, u); its inverse is the variance of (beta-hat, u-hat - u).
solve_equations <- function(theta) {
  G <- rep(theta[2:4], groups)
  C <- crossprod(cbind(X, Z)) / theta[1]
  u <- 3 + seq_along(G)
  C[cbind(u, u)] <- C[cbind(u, u)] + 1 / G
  inverse <- solve(C)
  list(value = drop(inverse %*% crossprod(cbind(X, Z), y)) / theta[1], inverse = inverse)
}
# Weights of (beta, u) at a recipe: the coffee's own level and slope where it is known (0: a new coffee).
weights_at <- function(recipe) {
  w <- c(1, recipe$g, recipe$t, rep(0, sum(groups)))
  if (recipe$coffee > 0) w[3 + c(recipe$coffee, 6 + recipe$coffee)] <- c(1, recipe$g)
  w
}
error_variance <- function(theta, recipe, brew) {
  w <- weights_at(recipe)
  v <- drop(w %*% solve_equations(theta)$inverse %*% w)
  if (recipe$coffee == 0) v <- v + theta[[2]] + recipe$g^2 * theta[[3]]
  if (brew) v <- v + theta[[1]] + theta[[4]]
  v
}
deviance_of <- function(theta) {
  V <- theta[1] * diag(length(y)) + Z %*% (rep(theta[2:4], groups) * t(Z))
  Vi <- solve(V)
  A <- t(X) %*% Vi %*% X
  r <- y - X %*% solve(A, t(X) %*% Vi %*% y)
  drop(determinant(V)$modulus + determinant(A)$modulus + t(r) %*% Vi %*% r)
}
var_theta <- 2 * solve(numDeriv::hessian(deviance_of, theta))
recipes <- list(
  list(coffee = 1, grind = 1, temp = 94), list(coffee = 5, grind = -0.5, temp = 93), list(coffee = 0, grind = 1, temp = 94),
  list(coffee = 0, grind = 0, temp = 93)
)
for (k in seq_along(recipes)) {
  recipe <- recipes[[k]]
  recipe$g <- recipe$grind - mean(mixed$grind); recipe$t <- recipe$temp - mean(mixed$temp)
  note("mixed", k, "value", drop(weights_at(recipe) %*% solve_equations(theta)$value))
  for (brew in c(FALSE, TRUE)) {
    v <- error_variance(theta, recipe, brew)
    gradient <- numDeriv::grad(function(th) error_variance(th, recipe, brew), theta)
    word <- if (brew) "brew" else "mean"
    note("mixed", k, paste(word, "variance"), v)
    note("mixed", k, paste(word, "df"), 2 * v^2 / drop(gradient %*% var_theta %*% gradient))
  }
}
# lme4's own conditional prediction of the known coffees, sessions at their mean.
for (k in 1:2) {
  recipe <- recipes[[k]]
  new <- data.frame(
    coffee = recipe$coffee, g = recipe$grind - mean(mixed$grind), t = recipe$temp - mean(mixed$temp), session = 1
  )
  note("mixed", k, "lme4 value", predict(fit, new, re.form = ~ (1 | coffee) + (0 + g | coffee)))
}

# ---- ten coffees of six brews, each coffee at the same settings: yield and strength stacked
both <- expand.grid(brew = 1:6, coffee = 1:10)
both$grind <- c(-2, -1, 0, 0, 1, 2)[both$brew]
a <- rnorm(10); b <- rnorm(10); e <- rnorm(60); f <- rnorm(60)
both$yield <- round(20 + 1.0 * a[both$coffee] + 0.4 * both$grind + 0.6 * e, 3)
both$strength <- round(9.5 + 0.35 * a[both$coffee] + 0.2 * b[both$coffee] + 0.19 * both$grind + 0.25 * e + 0.08 * f, 4)
write.csv(both, "both.csv", row.names = FALSE, quote = FALSE)
stacked <- rbind(
  data.frame(both[c("coffee", "brew", "grind")], trait = "y", value = both$yield),
  data.frame(both[c("coffee", "brew", "grind")], trait = "z", value = both$strength)
)
stacked$unit <- factor(paste(stacked$coffee, stacked$brew))
stacked$coffee <- factor(stacked$coffee); stacked$trait <- factor(stacked$trait)
stacked <- stacked[order(stacked$coffee, stacked$unit, stacked$trait), ]
joint <- lme(
  value ~ 0 + trait + trait:grind, random = ~ 0 + trait | coffee,
  weights = varIdent(form = ~ 1 | trait), correlation = corSymm(form = ~ as.integer(trait) | coffee / unit),
  data = stacked, method = "REML", control = lmeControl(msMaxIter = 500, niterEM = 50, tolerance = 1e-10, msTol = 1e-12)
)
between <- as.matrix(getVarCov(joint, type = "random.effects"))
note("both", 0, "coffee yield", between[1, 1])
note("both", 0, "coffee both", between[1, 2])
note("both", 0, "coffee strength", between[2, 2])
scales <- 1 / attr(joint$modelStruct$varStruct, "weights")[1:2] * joint$sigma
rho <- coef(joint$modelStruct$corStruct, unconstrained = FALSE)
note("both", 0, "brew yield", scales[[1]]^2)
note("both", 0, "brew strength", scales[[2]]^2)
note("both", 0, "brew both", rho[[1]] * prod(scales))

write.csv(do.call(rbind, expected), "expected.csv", row.names = FALSE, quote = FALSE)
writeLines(c(R.version.string, sapply(c("lme4", "nlme", "numDeriv"), function(p) paste(p, packageVersion(p)))), "versions.txt")
