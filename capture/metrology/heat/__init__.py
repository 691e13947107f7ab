"""Heat: size at 20 degrees Celsius, expansion of materials, cooling and the soak. Pure."""
