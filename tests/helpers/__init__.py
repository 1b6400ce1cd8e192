"""What the tests share: helpers that make shops, ask questions and visit pages."""
