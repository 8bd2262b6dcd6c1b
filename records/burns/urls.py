app_name = "burns"
urlpatterns = []
