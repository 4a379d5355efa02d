-- One row per reading: the stored reading with what its instrument adds.
SELECT
    r.*,
    i.resolution,
    i.standard_uncertainty,
    i.unit
FROM readings AS r
LEFT JOIN instruments AS i ON i.instrument_id = r.instrument_id
