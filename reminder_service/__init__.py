"""Dated field tasks and text reminders for a smallholder maize programme."""
