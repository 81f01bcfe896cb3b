"""From lines to candidate strings: mode assignments with their likelihoods."""
