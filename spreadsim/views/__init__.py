"""Pictures and tables of outcomes. Modules are imported one by one: figures need matplotlib, tables don't."""
