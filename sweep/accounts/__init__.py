"""What the pages say: the tables and sentences that their templates set out, as plain text and numbers; a module a page."""
