"""Two weeks ahead: many fortnights by forecast, readings and past years, and chances made of them."""
