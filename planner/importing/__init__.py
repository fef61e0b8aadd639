"""Another program's export laid over the tables of a workbook."""
