"""What a recipe is expected to give: yield and strength, alone and together, inside the region brewed."""
