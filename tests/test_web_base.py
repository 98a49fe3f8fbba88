"""The frame that every page stands in."""

from __future__ import annotations

import pytest


@pytest.mark.browser
def test_a_phone_signs_in_over_the_network(phone, server, sign_in_page):
    sign_in_page(phone, "Ada Holm")
    assert phone.url == f"{server}/more"
    assert phone.locator("header").inner_text().count("Ada Holm") == 1
