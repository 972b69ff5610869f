"""What happened: events, how they fold into a case, and what an intent becomes."""
