# The special case of the estimate as R's package `ordinal` fits it: a cumulative probit with a
# random level per trainee and a random effect per trainee and position (Laplace).
#
# Usage: Rscript ordinal_package.R ratings.csv
# Prints key and value on each line; times are CPU seconds of the fit alone.
suppressPackageStartupMessages(library(ordinal))
table <- read.csv(commandArgs(trailingOnly = TRUE)[1])
table$rating <- factor(table$rating, levels = 1:5, ordered = TRUE)
table$position <- relevel(factor(table$position), ref = "centre")
table$slot <- factor(table$slot)
table$trainee <- factor(table$trainee)
table$own <- interaction(table$trainee, table$position, drop = TRUE)
begun <- proc.time()
fit <- clmm(rating ~ position + slot + elapsed + (1 | trainee) + (1 | own),
            data = table, link = "probit")
spent <- proc.time() - begun
say <- function(key, value) cat(key, format(value, digits = 15), "\n")
say("cpu_s", spent[["user.self"]] + spent[["sys.self"]])
say("log_likelihood", as.numeric(logLik(fit)))
for (name in names(fit$alpha)) say(paste0("cut:", name), fit$alpha[[name]])
for (name in names(fit$beta)) say(paste0("effect:", name), fit$beta[[name]])
for (name in names(fit$ST)) say(paste0("sd:", name), abs(fit$ST[[name]][1, 1]))
cat("versions R", paste(R.version$major, R.version$minor, sep = "."), "ordinal",
    as.character(packageVersion("ordinal")), "\n")
