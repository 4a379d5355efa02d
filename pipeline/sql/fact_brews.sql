-- One row per brew: the stored brew with what its coffee, lot, grinder and weighing scale add.
-- A lot wins over its coffee for date and moisture; an empty cell of the lot falls back to the coffee's.
SELECT
    b.*,
    coalesce(c.name, b.coffee_id) AS coffee_name,
    c.roast_level,
    coalesce(l.roasted_on, c.roasted_on) AS roasted_on,
    coalesce(l.moisture_pct, c.moisture_pct) AS moisture_pct,
    l.frozen_days,
    g.finer_is,
    g.step_um,
    g.dial,
    s.standard_uncertainty AS scale_standard_uncertainty,
    s.resolution AS scale_resolution
FROM brews AS b
LEFT JOIN coffees AS c ON c.coffee_id = b.coffee_id
LEFT JOIN lots AS l ON l.lot_id = b.lot_id
LEFT JOIN grinders AS g ON g.grinder_id = b.grinder_id
LEFT JOIN instruments AS s ON s.instrument_id = b.scale_id
