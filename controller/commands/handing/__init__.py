"""`duskhand hand-over`, step by step: where files go, what is sent, what stands beside it."""
