"""The guide: written pages (``pages/*.md``) and pages made from what they are about, in the terminal and as HTML."""
