"""People, batches, checklists, devices, links, accounts: rows that change in place."""
