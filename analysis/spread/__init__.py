"""Where the spread of brews comes from: coffee, session, operator, the brew itself, and the measuring."""
