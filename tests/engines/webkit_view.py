"""A window of WebKit whose data stay in a folder, for WebKitWebDriver to drive:

    /usr/bin/python3 webkit_view.py FOLDER

WebKit's own MiniBrowser forgets everything when a driver starts it, so that no cold start could be
tried with it. Runs under the system's Python, which has WebKit's bindings (gir1.2-webkit2-4.1).
"""

import sys

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")
from gi.repository import Gtk, WebKit2  # noqa: E402  (the versions come first)

WIDTH, HEIGHT = 360, 640


def open_context(folder):
    """What all views share: their data, and that a driver may ask for them."""
    manager = WebKit2.WebsiteDataManager(
        base_data_directory=f"{folder}/data", base_cache_directory=f"{folder}/cache"
    )
    context = WebKit2.WebContext(website_data_manager=manager)
    context.set_automation_allowed(True)
    return context


def run(folder):
    """Serves one driver until it is ended."""
    context = open_context(folder)

    def make_view(_session):
        window = Gtk.Window(default_width=WIDTH, default_height=HEIGHT)
        view = WebKit2.WebView(web_context=context, is_controlled_by_automation=True)
        window.add(view)
        window.show_all()
        return view

    def begin(_context, session):
        about = WebKit2.ApplicationInfo()
        about.set_name("WebKitGTK")
        about.set_version(
            WebKit2.get_major_version(), WebKit2.get_minor_version(), WebKit2.get_micro_version()
        )
        session.set_application_info(about)
        session.connect("create-web-view", make_view)

    context.connect("automation-started", begin)
    Gtk.main()


run(sys.argv[1])
