"""The rule base: trade knowledge as TOML tables, loaded into frozen records and validated."""
