"""The few sequences that join edges and middle: morning, intake of weather, journal of records."""
