"""From a firing end to numbers: nose colour, gloss, crust, specks, gap."""
