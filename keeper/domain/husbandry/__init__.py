"""Husbandry: meals, weights, sheds, health; noted, read, and pointed out."""
