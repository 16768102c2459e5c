#!/usr/bin/python3
"""A browser on WebKitGTK for its driver: as wide as a phone, with a storage that outlives it.

Run by Debian's own Python, which has GTK; the first argument is the folder of the storage.
"""

import sys

import gi  # type: ignore[import-not-found]

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")
from gi.repository import Gtk, WebKit2  # type: ignore[import-not-found]  # noqa: E402

NAME = "boxround-phone"
folder = sys.argv[1]
context = WebKit2.WebContext(
    website_data_manager=WebKit2.WebsiteDataManager(
        base_data_directory=f"{folder}/data", base_cache_directory=f"{folder}/cache"
    )
)


def create_view(session):  # type: ignore[no-untyped-def]
    view = WebKit2.WebView(is_controlled_by_automation=True, web_context=context)
    window = Gtk.Window()
    window.set_default_size(390, 844)
    window.add(view)
    window.show_all()
    return view


def start_session(_context, session):  # type: ignore[no-untyped-def]
    info = WebKit2.ApplicationInfo()
    info.set_name(NAME)
    info.set_version(1, 0, 0)
    session.set_application_info(info)
    session.connect("create-web-view", create_view)


context.set_automation_allowed(True)
context.connect("automation-started", start_session)
Gtk.main()
