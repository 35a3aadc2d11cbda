"""forecasting."""
