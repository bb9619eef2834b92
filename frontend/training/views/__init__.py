"""Pages on how volunteers become trained, and on what the looks of observers count."""
