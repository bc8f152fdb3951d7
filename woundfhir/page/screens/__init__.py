"""The screens: each takes a request and gives a page; what they show is made in the modules beside."""
