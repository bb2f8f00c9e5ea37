"""Where it happens: places, loops, species, products, people, limits, checklists."""
