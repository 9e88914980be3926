"""The lift plan: what is calculated, put in the order of the job, and what is ready for the day."""
