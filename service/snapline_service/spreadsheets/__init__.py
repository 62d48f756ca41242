"""The catalogue's flat parts as spreadsheets, out and in again."""
