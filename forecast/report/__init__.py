"""Pages and exports: they read results and compute nothing."""
