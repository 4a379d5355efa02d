# Rscript generate.R > expected.csv, in this folder; base R only.
input <- read.csv("input.csv")
for (method in c("holm", "BH"))
  input[[method]] <- ave(input$p, input$case, FUN = function(p) p.adjust(p, method))
input[c("p", "holm", "BH")] <- lapply(input[c("p", "holm", "BH")], function(x) trimws(formatC(x, digits = 15, format = "g")))
write.csv(input, row.names = FALSE, quote = FALSE)
