"""From readings to causes, next checks and a verdict."""
