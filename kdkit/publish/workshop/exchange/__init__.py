"""Files for other programs: DXF, STEP, glTF, a workbook."""
