"""Lines, quantiles and change points: the statistics that several questions need."""
