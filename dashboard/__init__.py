"""The screen: follows a recording and draws the state that the folds make of it."""
