"""Parts of the glass, each with one job."""
