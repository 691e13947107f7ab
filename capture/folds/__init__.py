"""Events into state, one pure step at a time; everything that is computed live is a fold."""
