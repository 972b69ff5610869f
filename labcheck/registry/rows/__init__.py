"""The tables that leave, one model per row; JSON, CSV, schemas and data dictionary are made from these."""
