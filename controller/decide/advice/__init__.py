"""What a plan comes to, before anything is shot: `advise.advise` gives it as one document, worked from the others."""
