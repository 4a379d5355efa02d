"""Parts of one method's block, in reading order."""
