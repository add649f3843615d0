"""Addresses of projects and their holdbacks."""

from django.urls import path

from keeper.pages.projects import advice, holding, outlook, together, ways
from keeper.pages.projects import views as projects

urlpatterns = [
    path("projects/", projects.project_list, name="projects"),
    path("projects/new/", projects.new, name="projects-new"),
    path("projects/hold/", holding.hold, name="projects-hold"),
    path("projects/hold/young/<int:pk>/", holding.hold_young, name="projects-hold-young"),
    path("projects/hold/advice/<int:pk>/", advice.holdbacks, name="projects-advice"),
    path("projects/<int:pk>/", projects.one, name="projects-one"),
    path("projects/<int:pk>/change/", projects.change, name="projects-edit"),
    path("projects/<int:pk>/outlook/", outlook.outlook, name="projects-outlook"),
    path("projects/<int:pk>/outlook/together/", together.together, name="projects-together"),
    path("projects/<int:pk>/ways/", ways.ways, name="projects-ways"),
    path("projects/plans/<int:pk>/give-up/", ways.give_up, name="projects-plan-give-up"),
    path("projects/<int:pk>/close/", projects.close, name="projects-close"),
    path("projects/<int:pk>/reopen/", projects.reopen, name="projects-reopen"),
    path("projects/members/<int:pk>/review/", holding.review, name="projects-review"),
    path("projects/members/<int:pk>/release/", holding.release, name="projects-release"),
]
