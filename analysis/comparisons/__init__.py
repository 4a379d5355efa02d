"""Recipes, grinders, baskets or waters side by side: which differ, and which differ by no more than matters."""
