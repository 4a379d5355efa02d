"""Can these brews answer what is asked: design, replication, influence, residuals and what hangs on one coffee."""
