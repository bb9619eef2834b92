"""Chores about people."""

from survey.chores.registry import handles
from survey.people import post


@handles("send_mail", computes=post.deliver)
def send_mail(key: str, state: str) -> None:
    post.settle(key, state)
