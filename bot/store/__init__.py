"""What is kept: tables, the unit of work, migrations."""
