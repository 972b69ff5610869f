"""A mutation check run by hand: which small changes to the program would no test notice?"""
