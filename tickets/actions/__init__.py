"""The only writer: every act fetches, asks the rules, and saves once."""
