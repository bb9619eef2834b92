"""Rules of the place: proposed, approved and withdrawn by trained staff."""
