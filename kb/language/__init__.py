"""What typed words mean: the language of a bench, with its slips, shorthand and missing spaces."""
