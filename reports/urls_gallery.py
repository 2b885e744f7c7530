from django.urls import path

from reports import gallery

urlpatterns = [path("", gallery.gallery, name="gallery")]
