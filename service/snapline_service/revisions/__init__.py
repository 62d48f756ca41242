"""Published revisions: their files, how those are built, kept and handed out."""
