"""The workbook: one file a sheet, and what all sheets share."""
