-- One row per agreed target.
SELECT target_id, coffee_id, method, recipe_id, site, valid_from, valid_to, quantity, low, high
FROM targets
ORDER BY target_id
