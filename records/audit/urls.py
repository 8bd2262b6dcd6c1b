app_name = "audit"
urlpatterns = []
