"""Words and numbers as people write them: units, fields of a table, TOML."""
